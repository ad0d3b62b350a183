package models

import (
	"fmt"
	"time"

	"rimledger/models/units"
)

// Stamp says who made or last changed a thing, and which edit it is: version 1
// is the first, and an edit must name the version it starts from.
type Stamp struct {
	Version   int64
	CreatedAt time.Time
	CreatedBy UserID
	UpdatedAt time.Time
	UpdatedBy UserID
}

// Depot is a yard with its own clock, law, units and mail.
type Depot struct {
	ID           DepotID
	Name         string
	TimeZone     string // IANA name, such as Europe/Berlin
	Jurisdiction string // code of package legal, such as US or DE
	OwnRules     []OwnRule
	Units        units.Set
	Currency     string // ISO 4217, three letters
	DigestCron   string // five fields, in the depot's time zone; empty sends none
	Recipients   []string
	Box          Box
	Stamp
}

// Box is the balance weights that a depot's shop has, for light and for heavy
// wheels: the mass of each size of clip, and of one adhesive segment. An empty
// list says nothing; the bench then takes usual sizes.
type Box struct{ LightClips, LightSegments, HeavyClips, HeavySegments []Mass }

// Of returns the clips and segments for heavy or for light wheels.
func (b Box) Of(heavy bool) (clips, segments []Mass) {
	if heavy {
		return b.HeavyClips, b.HeavySegments
	}
	return b.LightClips, b.LightSegments
}

// With returns the box with other clips and segments for heavy or for light wheels.
func (b Box) With(heavy bool, clips, segments []Mass) Box {
	if heavy {
		b.HeavyClips, b.HeavySegments = clips, segments
	} else {
		b.LightClips, b.LightSegments = clips, segments
	}
	return b
}

// maxSizes bounds a list of sizes in a box, chosen by us.
const maxSizes = 40

// Validate returns an Invalid error that names every bad size, each with at before it.
func (b Box) Validate(at string) error {
	var f Faults
	for _, l := range []struct {
		name  string
		sizes []Mass
	}{{"light_clips", b.LightClips}, {"light_segments", b.LightSegments}, {"heavy_clips", b.HeavyClips}, {"heavy_segments", b.HeavySegments}} {
		if len(l.sizes) > maxSizes {
			f.Add(at+l.name, fmt.Sprint(len(l.sizes)), "must be at most %d sizes", maxSizes)
		}

		for i, m := range l.sizes {
			if !(m.Value > 0 && m.Value <= MaxWeight) {
				f.Add(
					fmt.Sprintf("%s%s[%d]", at, l.name, i),
					m.Text,
					"must be the mass of one piece, above 0 and at most 2000 g",
				)
			}
		}
	}

	return f.Err("box of weights")
}

// OwnRule is a depot's own minimum depth, stricter than the law.
type OwnRule struct {
	Class    Class    // empty: every class
	Role     AxleRole // empty: every axle
	MinDepth Depth
	Reason   string
}

// DepotPolicy is what one depot changes in the policy of one class.
type DepotPolicy struct {
	DepotID DepotID
	Class   Class
	Patch   PolicyPatch
	Stamp
}
