package wear

import (
	"math"

	"rimledger/models/badinput"
)

// Use is the estimate of the distance a vehicle covers a day, from the days on which
// its odometer was read. Like State it is plain data and costs the same small work for
// every reading. A vehicle whose odometer is never known keeps the wide prior of
// StartUse.
type Use struct {
	KMPerDay  float64 // expected
	Info      float64 // (days/km)²
	DailySDKM float64 // standard deviation of one day's distance
	DriftSDKM float64 // of the mean, km per day, per square root of a day

	Known    bool // an odometer was read
	Day      float64
	XKM      float64
	Readings int // stretches between two known odometers
	Embedded bool
}

// embeddedUse is a judged distance a day by class, every day of the year counted:
// common practice, no source. The first row is for unknown classes.
var embeddedUse = []struct {
	class    string
	kmPerDay float64
}{
	{"", 120}, {"car", 50}, {"light_truck", 80}, {"rigid_truck", 150},
	{"tractor", 350}, {"trailer", 200}, {"bus", 180},
}

// Judged shares of the daily distance, chosen by us.
const (
	useCV      = 0.6  // between vehicles of a class
	dailyCV    = 1.2  // between the days of one vehicle: weekends and idle weeks count
	useDriftCV = 0.02 // of the mean per square root of a day: a tenth in a month
	minUseKM   = 0.1  // km a day below which a vehicle counts as parked
)

// DefaultUse returns the embedded expectation for a vehicle class, in km a day.
func DefaultUse(class string) float64 {
	for _, r := range embeddedUse {
		if r.class == class {
			return r.kmPerDay
		}
	}
	return embeddedUse[0].kmPerDay
}

// StartUse returns the use of a vehicle with only an expectation in km a day, with a
// wide interval. An expectation outside 0.1 to 5000 km a day takes the nearer end.
func StartUse(expectedKMPerDay float64) Use {
	m := expectedKMPerDay
	if !(m >= minUseKM) {
		m = minUseKM
	}
	m = math.Min(m, maxKMPerDay)

	sd := useCV * m
	return Use{KMPerDay: m, Info: 1 / (sd * sd), DailySDKM: dailyCV * m, DriftSDKM: useDriftCV * m, Embedded: true}
}

// maxKMPerDay is more than a vehicle with two drivers covers.
const maxKMPerDay = 5000

// Update returns the use after an odometer was read on a day. The first reading
// only sets the start; two readings on one day only move it. It returns an
// badinput.Error that wraps ErrTimeGoesBack, ErrGoesBack, ErrNotFinite or
// ErrOutOfRange (more than 5000 km a day); u is then unchanged. After an
// odometer was changed, call Restart.
func (u Use) Update(day, xKM float64) (Use, error) {
	if err := badinput.Within("day", day, -1e6, 1e6, "a day is counted from a recent origin"); err != nil {
		return u, err
	}
	if err := badinput.Within("distance_km", xKM, -maxKM, maxKM, "a distance is at most ten million km"); err != nil {
		return u, err
	}

	if !u.Known {
		u.Known, u.Day, u.XKM = true, day, xKM
		return u, nil
	}

	days, km := day-u.Day, xKM-u.XKM
	if days < 0 {
		return u, badinput.Number("day", day, ErrTimeGoesBack, "the last reading was on day %g", u.Day)
	}
	if km < 0 {
		return u, badinput.Number("distance_km", xKM, ErrGoesBack, "the last one was %g km", u.XKM)
	}
	if km > maxKMPerDay*math.Max(days, 1) {
		return u, badinput.Number("distance_km", xKM, ErrOutOfRange, "at most 5000 km a day after %g km", u.XKM)
	}
	if days < 1.0/24 {
		return u, nil // too short for a rate; the next reading ends the stretch
	}

	// The stretch is one observation of the mean, with the variance of that many days.
	u.Info /= 1 + u.Info*u.DriftSDKM*u.DriftSDKM*days
	gained := days / (u.DailySDKM * u.DailySDKM)
	u.Info += gained
	u.KMPerDay = math.Max(u.KMPerDay+gained/u.Info*(km/days-u.KMPerDay), minUseKM)
	u.Day, u.XKM, u.Embedded = day, xKM, false
	u.Readings++

	// The scatter of the days is proportional to the mean.
	u.DailySDKM = dailyCV * u.KMPerDay
	u.DriftSDKM = useDriftCV * u.KMPerDay
	return u, nil
}

// Restart returns the use after the odometer was changed; the estimate is kept.
// Errors: those of Update.
func (u Use) Restart(day, xKM float64) (Use, error) {
	u.Known = false
	return u.Update(day, xKM)
}

// At returns the distance expected on a day at or after the last reading, in km
// on the odometer's scale, and its standard deviation. It returns false if no
// odometer was ever read.
func (u Use) At(day float64) (xKM, sdKM float64, ok bool) {
	days := day - u.Day
	if !u.Known || !finite(day) {
		return 0, 0, false
	}
	days = math.Max(days, 0)
	return u.XKM + u.KMPerDay*days, days * math.Sqrt(u.variance(days)), true
}

// DoubtKM returns the standard deviation, in km, of the distance over the next days.
func (u Use) DoubtKM(days float64) float64 { return days * math.Sqrt(u.variance(days)) }

// PerDay returns km a day as an interval. Unlike a forecast it has no horizon.
func (u Use) PerDay() Span {
	logSD := u.logSD(0)
	median := u.KMPerDay * math.Exp(-logSD*logSD/2)
	at := func(z float64) Bound { return Bound{Value: median * math.Exp(z*logSD)} }
	return Span{Median: at(0), Lo80: at(-z80), Hi80: at(z80), Lo90: at(-z90), Hi90: at(z90)}
}

// variance returns the variance of the mean km a day over the next days.
func (u Use) variance(days float64) float64 {
	v := u.DriftSDKM * u.DriftSDKM * days / 3
	if u.Info > 0 {
		v += 1 / u.Info
	}
	if days > 0 {
		v += u.DailySDKM * u.DailySDKM / days
	}
	return v
}

// logSD returns the standard deviation of the logarithm of the mean km a day
// over the next days.
func (u Use) logSD(days float64) float64 {
	return math.Sqrt(math.Log1p(u.variance(days) / (u.KMPerDay * u.KMPerDay)))
}
