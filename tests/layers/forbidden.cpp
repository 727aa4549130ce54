// What no pure stage but load itself may include: this must not compile.
#include "load/csv.h"
