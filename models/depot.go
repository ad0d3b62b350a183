package models

import (
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
	Stamp
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
