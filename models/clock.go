package models

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"github.com/robfig/cron/v3"
)

// zones are the time zones that were read so far: reading one takes a file.
var zones sync.Map // string to *time.Location

// ParseZone returns the time zone of an IANA name such as Europe/Berlin. It
// returns an error for a name that is not known, for "", and for "Local", which
// means another zone on each machine.
func ParseZone(name string) (*time.Location, error) {
	if z, known := zones.Load(name); known {
		return z.(*time.Location), nil
	}

	z, err := time.LoadLocation(name)
	if err != nil || name == "" || name == "Local" {
		return nil, fmt.Errorf("time zone %q is not known; write an IANA name such as Europe/Berlin", name)
	}
	zones.Store(name, z)
	return z, nil
}

// Zone returns the time zone of the depot, an error if its name is not known.
func (d Depot) Zone() (*time.Location, error) {
	z, err := ParseZone(d.TimeZone)
	if err != nil {
		return nil, fmt.Errorf("depot %s: %w", d.Name, err)
	}
	return z, nil
}

// cronParser reads the usual five fields: minute, hour, day of month, month, day of week.
var cronParser = cron.NewParser(cron.Minute | cron.Hour | cron.Dom | cron.Month | cron.Dow)

// ParseCron reads five cron fields: minute, hour, day of month, month, day of
// week (crontab(5)). It returns an error if they cannot be read or name no day
// that ever comes.
func ParseCron(spec string) (cron.Schedule, error) {
	// The library also takes "TZ=..." and "@every", which have no civil time.
	if strings.ContainsAny(spec, "=@") {
		return nil, fmt.Errorf("schedule %q must be five fields: minute hour day month weekday", spec)
	}

	s, err := cronParser.Parse(spec)
	if err != nil {
		return nil, fmt.Errorf("schedule %q must be five fields, minute hour day month weekday: %w", spec, err)
	}
	if s.Next(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)).IsZero() {
		return nil, fmt.Errorf("schedule %q names a day that never comes", spec)
	}

	return s, nil
}
