// Package assess turns what is known of a vehicle into findings: what is wrong
// or due, how urgent it is, the evidence in numbers, what to do first, and the
// caution for that work.
//
// It is pure: everything it uses is in the Snapshot, the time included. It
// advises; it passes or fails no vehicle in law, and each finding that rests on
// a published rule says so. Computations are those of the packages legal, wear,
// pattern and tiresize; intervals and pull points are those of the policy.
//
// The texts of findings have marks of package units in place of quantities and
// days: package fleet renders the marks in each reader's own units and notation.
//
// # Decisions
//
// Balance by interval is for steered axles on heavy vehicles. Drive and trailer
// wheels of heavy vehicles are balanced on complaint (common practice, no source), so
// without a balance in the record no interval begins for them. A depot or vehicle can
// change the interval, not this. Rejected: one interval for all wheels, which asks
// fleets for work that most of them never do. November 2026.
//
// The account of causes on the page of a place is Account: the same scoring as the
// findings rest on. Rejected: a second computation for the page, which could
// contradict the finding. November 2026.
//
// The verdict of a balance job is computed by JudgeBalance, never typed. Light
// vehicles: 0.25 oz a flange (workshop manual). Heavy vehicles: the total weight that
// the bare assembly needs (TMC RP 214, second-hand), judged only if the weights were
// off; and a textbook's residuals, used as limits because no published one was found.
// The record names the source of its limit. A loose assembly is judged by its size
// and, since nobody knows yet where it will run, by the limit for steered axles.
// Rejected: a verdict that the technician enters, which depends on who enters it.
// November 2026.
//
// A change of the unbalance of a bare assembly between jobs of one mounting counts as
// drift from 20 g, or 60 g on heavy vehicles (chosen by us; the reason is beside
// the constants). November 2026.
//
// The search for the wheel behind a complaint has no state of its own. FindWheel
// works it out from the jobs since the report. Rejected: a stored run with steps, which
// goes wrong when a job is recorded elsewhere, late, or withdrawn. November 2026.
//
// Without a load index, rims of half an inch from 17.5 up count as heavy (from
// memory). Rejected: to refuse a size without a load index, since worn sidewalls often
// show no more. November 2026.
//
// A rim of unknown material is judged by the limit for steel, the wider one. The limit
// of the bead gap is exactly 2/32 in. November 2026.
package assess
