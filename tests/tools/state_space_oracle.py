"""Writes what a general-purpose state-space library makes of series whose leaks and miscounts are known.

Usage: state_space_oracle.py FILE, or `ninja -C .build/release state_space_oracle`

The library is statsmodels, its ordinary Kalman filter with a known initial state. Each series has its matrices built
here, from the model as src/rules/count_filter.h says it in words and not from the code. The file holds inputs and
results together, see tests/data/statespace/README.md; tests/rules/estimate_oracle_test.cpp reads it.
"""
import sys

try:
    import numpy as np
    from statsmodels.tsa.statespace.kalman_filter import FILTER_CONVENTIONAL, KalmanFilter
except ImportError as missing:
    sys.exit(f"state_space_oracle.py: {missing}; on Debian: apt-get install python3-statsmodels\n"
             "Only rerunning this script needs it; the tests read the file that is there.")

EVERY_PLACE, UNBIASED = "all", "none"
# Results lose the digits in which builds of BLAS differ, so that the file comes out the same everywhere.
RESULT = "{:.12g}"


class Series:
    """A series as it is told: moves and counts in order. A move begins a period, a count belongs to the present one."""

    def __init__(self, name, places, biases=0, drift=0.012**2):
        self.name, self.places, self.biases, self.drift = name, places, biases, drift
        self.size = places + 2 + biases
        self.factor, self.leak = places, places + 1
        self.mean, self.sd = np.zeros(self.size), np.zeros(self.size)
        self.moves = []  # (transition, intercept, covariance) from each period to the next
        self.counts = [{}]  # of each period, by way of counting: (value, variance)
        self.told = [[]]  # of each period, the lines for the file
        self.leaking = 0

    def prior(self, member, mean, sd):
        self.mean[member], self.sd[member] = mean, sd
        self.tell("prior", member, mean, sd)

    def tell(self, *fields):
        self.told[-1].append(",".join(f if isinstance(f, str) else repr(f) for f in fields))

    def begin_period(self, transition, intercept, covariance):
        self.moves.append((transition, intercept, covariance))
        self.counts.append({})
        self.told.append([])

    def span(self, days, *flows):
        """`days` go by with (place, draw, make, sigma) at even rates; 0 days: they happen at one instant."""
        # In a share s of the span the state goes from x to (1 + s x slope) x + s x intercept.
        slope, intercept = np.zeros((self.size, self.size)), np.zeros(self.size)
        noise = np.zeros((self.size, self.size))
        for place, draw, make, sigma in flows:
            slope[place, self.factor] -= draw
            intercept[place] += make
            noise[place, place] += sigma**2
        slope[self.leaking, self.leak] -= days
        noise[self.factor, self.factor] = self.drift * days
        # What noise of the whole span adds: the integral over s of (1 + s x slope) noise (1 + s x slope)'. That is a
        # polynomial of degree two, so that Simpson's rule has it without a remainder.
        covariance = np.zeros((self.size, self.size))
        for share, weight in ((0, 1 / 6), (0.5, 4 / 6), (1, 1 / 6)):
            spread = np.eye(self.size) + share * slope
            covariance += weight * (spread @ noise @ spread.T)
        self.begin_period(np.eye(self.size) + slope, intercept, covariance)
        for flow in flows:
            self.tell("flow", *flow)
        self.tell("span", days, self.leaking)

    def begin_leak(self, place, mean, sd):
        """From this instant on `place` leaks; until now the leak was exactly 0."""
        intercept, covariance = np.zeros(self.size), np.zeros((self.size, self.size))
        intercept[self.leak], covariance[self.leak, self.leak] = mean, sd**2
        self.begin_period(np.eye(self.size), intercept, covariance)
        self.leaking = place
        self.tell("leak", place, mean, sd)

    def count(self, value, sigma, place=0, bias=UNBIASED, miscount=False):
        """A miscount has the variance (13 sigma)^2 on top of a good count's."""
        variance = sigma**2 * (1 + 13**2 if miscount else 1)
        assert (place, bias) not in self.counts[-1], "one way of counting counts once a period"
        self.counts[-1][place, bias] = (value, variance)
        self.tell("count", value, variance, place, bias)

    def design(self, ways):
        rows = np.zeros((len(ways), self.size))
        for row, (place, bias) in zip(rows, ways):
            row[slice(self.places) if place == EVERY_PLACE else place] = 1
            if bias != UNBIASED:
                row[self.places + 2 + bias] = 1
        return rows

    def filtered(self):
        ways = sorted({way for period in self.counts for way in period}, key=str)
        periods = len(self.counts)
        values = np.full((periods, len(ways)), np.nan)
        variances = np.zeros((len(ways), len(ways), periods))
        variances[range(len(ways)), range(len(ways))] = 1  # of a count that was not made; goes nowhere
        for t, counts in enumerate(self.counts):
            for way, (value, variance) in counts.items():
                values[t, ways.index(way)] = value
                variances[ways.index(way), ways.index(way), t] = variance
        still = (np.eye(self.size), np.zeros(self.size), np.zeros((self.size, self.size)))
        transition, intercept, covariance = (np.stack(m, axis=-1) for m in zip(*self.moves, still))
        library = KalmanFilter(k_endog=len(ways), k_states=self.size, tolerance=0)  # 0: never takes a filter as settled
        library.bind(values)
        library.filter_method = FILTER_CONVENTIONAL
        library["design"], library["obs_cov"] = self.design(ways), variances
        library["selection"] = np.eye(self.size)
        library["transition"], library["state_intercept"], library["state_cov"] = transition, intercept, covariance
        library.initialize_known(self.mean, np.diag(self.sd**2))
        return library.filter()

    def lines(self):
        result = self.filtered()
        lines = [f"series,{self.name},{self.places},{self.biases},{self.drift!r}"]
        for t, told in enumerate(self.told):
            state, covariance = result.filtered_state[:, t], result.filtered_state_cov[:, :, t]
            numbers = [result.llf_obs[t], *state, *covariance[np.tril_indices(self.size)]]
            lines += told + ["seen," + ",".join(RESULT.format(number + 0.0) for number in numbers)]
        return lines


def regular():
    series = Series("one place at regular times", places=1)
    series.prior(0, 100.0, 0.6)
    series.prior(series.factor, 1.0, 0.08)
    for value in (97.9, 94.6, 92.8, 89.2, 87.1, 85.3, 81.9, 79.4, 77.0, 73.8):
        series.span(0.5, (0, 2.5, 0.0, 0.0))
        series.count(value, 0.6)
    return series


def irregular():
    series = Series("one place at irregular times", places=1, drift=0.03**2)
    series.prior(0, 412.0, 9.0)
    series.prior(series.factor, 1.0, 0.15)
    series.count(409.5, 4.0)
    for days, draw, make, sigma, value in (
        (0.3, 7.1, 0.0, 0.0, 401.0),
        (0.01, 0.2, 0.0, 0.0, 406.2),  # a quarter of an hour later
        (2.7, 58.0, 3.5, 0.8, None),
        (4.0, 0.0, 0.0, 0.0, 351.9),  # nothing is drawn
        (11.25, 240.0, 61.0, 2.5, 188.4),
        (0.6, -12.0, 0.0, 0.0, 202.7),  # put in, by the use factor
        (5.37, 120.9, 0.0, 0.0, 70.3),
        (3.0, 66.0, 0.0, 0.0, None),
    ):
        series.span(days, (0, draw, make, sigma))
        if value is not None:
            series.count(value, 4.0)
    return series


def two_places():
    series = Series("two places counted one by one and together", places=2)
    series.prior(0, 60.0, 0.5)
    series.prior(1, 40.0, 2.0)
    series.prior(series.factor, 1.0, 0.08)
    for days, first, second, alone, other, both in (
        (0.5, 3.0, 0.0, 57.2, None, None),
        (0.75, 4.5, 1.5, None, 38.9, 90.6),
        (1.0, 6.0, 2.0, 46.3, 36.0, 83.1),
        (0.25, 0.0, 2.5, None, None, 81.0),
        (2.0, 9.0, 6.0, 37.4, 27.9, None),
        (1.5, 0.0, 9.0, None, 18.2, 56.5),
    ):
        series.span(days, (0, first, 0.0, 0.0), (1, second, 0.4, 0.05))
        for value, place, sigma in ((alone, 0, 0.6), (other, 1, 0.9), (both, EVERY_PLACE, 1.1)):
            if value is not None:
                series.count(value, sigma, place)
    return series


def shared_bias():
    series = Series("a bias that one of two ways of counting shares", places=1, biases=1)
    series.prior(0, 250.0, 5.0)
    series.prior(series.factor, 1.0, 0.1)
    series.prior(3, 0.0, 3.0)
    for days, draw, gauged, tallied in (
        (1.0, 8.0, 244.9, None),
        (1.0, 8.0, 237.3, 233.8),
        (1.5, 12.0, 224.8, None),
        (0.5, 6.0, 219.6, None),
        (2.0, 16.0, None, 199.5),
        (1.0, 8.0, 195.0, 191.2),
        (3.0, 24.0, 170.4, None),
    ):
        series.span(days, (0, draw, 0.0, 0.0))
        if gauged is not None:
            series.count(gauged, 0.7, bias=0)
        if tallied is not None:
            series.count(tallied, 2.0)
    return series


def eventful():
    series = Series("a leak from a known instant with miscounts and a transfer and an event", places=2, biases=1)
    series.prior(0, 80.0, 0.6)
    series.prior(1, 30.0, 0.8)
    series.prior(series.factor, 1.0, 0.08)
    series.prior(4, 0.0, 0.4)

    def days(number):
        series.span(number, (0, 4.0 * number, 0.0, 0.0), (1, 1.0 * number, 0.2 * number, 0.0))

    days(0.5)
    series.count(78.3, 0.6)
    series.count(29.9, 0.5, 1, bias=0)
    days(0.5)
    series.count(67.4, 0.6, miscount=True)
    days(0.8)
    series.begin_leak(1, 2.5, 1.25)
    days(0.2)
    series.count(29.0, 0.5, 1, bias=0)
    series.count(72.3, 0.6)
    series.span(0.0, (0, 0.0, 4.0, 0.1))  # a transfer
    days(0.5)
    series.count(27.0, 0.5, 1, bias=0)
    series.count(101.4, 1.2, EVERY_PLACE)
    series.span(0.0, (0, 3.0, 0.0, 0.2), (1, 0.5, 0.0, 0.0))  # an event, drawn by the use factor
    days(1.0)
    series.count(24.6, 0.5, 1, bias=0)
    series.count(90.2, 1.2, EVERY_PLACE, miscount=True)
    series.count(66.5, 0.6)
    days(4.0)
    return series


everything = (regular(), irregular(), two_places(), shared_bias(), eventful())
lines = [line for series in everything for line in series.lines()]
with open(sys.argv[1], "w", encoding="utf-8", newline="\n") as file:
    file.write("\n".join(lines) + "\n")
