package models

import "rimledger/models/units"

// Figures counts how the vehicles of one depot stood on one day. A vehicle counts once
// under its worst open finding that is off the road or not set aside, as in Standing.
type Figures struct {
	DepotID     DepotID
	Day         string // civil date at the depot, such as 2026-12-03
	Vehicles    int
	OffRoad     int // vehicles whose worst finding takes them off the road
	DoNow       int // vehicles whose worst finding is to do now
	Overdue     int // vehicles with work that was due before this day
	DueThisWeek int // vehicles with work due on this day or the six days after it
	InShop      int // vehicles booked in for this day or one of the six days after it
	InTime      int // vehicles inspected within the interval of their policy
	AtPull      int // tires at their pull point or below, or forecast to be within PullAheadDays
	Tires       int // tires with a depth reading; spares do not count
	MedianDepth units.Length
}

// PullAheadDays is how many days ahead Figures looks for tires that reach their pull
// point: the time to order tires and to find a day in the shop; chosen by us.
const PullAheadDays = 60

// FiguresFilter narrows a list of figures, which is by day, then depot.
type FiguresFilter struct {
	Depots   []DepotID // empty: all
	From, To string    // first and last day, civil dates; empty: no bound
}
