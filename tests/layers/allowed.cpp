// What the stage rules may include.
#include "model/mission.h"
