// Package fleet has the use-cases: what people and programs do with the
// record. Each reads the clock once, checks permission, loads what it needs,
// calls pure code, and saves everything in one transaction, so that a write
// that was answered is whole and on disk, and the findings it causes with it.
//
// It uses neither HTTP nor a database directly; every error has a models.Kind.
//
// # One use-case records every kind of event (November 2026)
//
// Context: a dozen kinds of event share permission, repeats, corrections, checks
// of the odometer and findings. Choice: Record does these steps for all of them;
// only the checks of the content differ by kind. Rejected: a use-case for each
// kind, which would repeat the steps and let them drift apart.
//
// # Every write can be sent again (November 2026)
//
// Context: a phone that loses the network does not know whether its entry
// arrived. Choice: the client makes the id, and a fingerprint of the content is
// kept for each id: the same content gives the first answer, other content is a
// Conflict. Rejected: ids made by the server, which turn a repeat into a second
// entry.
//
// # A move of tires between later entries is refused (November 2026)
//
// Context: an entry names positions, and the record fills in the tires. Choice: a
// move earlier than other entries of its tires is a Conflict that names them.
// Rejected: replaying them, which would change which tire they were about.
//
// # A reading needs a tire in the record (November 2026)
//
// Choice: depths at a place without a tire are refused with the remedy; tires
// found on a vehicle are entered as fits of existing tires. Rejected: keeping such
// depths, since no rule could be applied to them.
//
// # Damage stays until a named person clears it (November 2026)
//
// Choice: damage that takes a tire off the road ends by a clearance, a repair, a
// removal or scrapping. Rejected: ending it by a later inspection that does not
// mention it, which may only mean that nobody looked.
//
// # What is off the road is never quiet (November 2026)
//
// Choice: acknowledged or booked in, it keeps its word and its place in every
// list. A booking is an acknowledgement with a day, at most a week ahead for what
// is off the road. Rejected: bookings as a record of their own, with rules of
// their own for what they make quiet.
//
// # Findings carry what changed about them (November 2026)
//
// Context: lists answer "since last week" and "new since booking". Choice: a
// finding keeps when and from what it got worse, and the booking of its vehicle at
// that time. Rejected: a history of findings, which every list would have to
// search.
//
// # An import checks every row before it records one (November 2026)
//
// Choice: every cell is read first, so that all bad ones are reported at once.
// Then all rows are tried on a snapshot (see trial), which keeps nobody from
// writing; a dry run ends there. What passes is recorded in parts of a quarter
// of a second (see nextPart), with their vehicles in memory (see batch): each vehicle is
// replayed and assessed once for a part. So a write waits for a part, not for a sheet. A later
// part can fail only where the record changed since the trial, or where the program
// ends; then the answer says how far it came, and the same sheet again records the
// rest. Rejected: one transaction for a sheet, for which others waited up to a minute;
// one for each row, which leaves part of any sheet behind.
//
// # A sweep writes only what changed (November 2026)
//
// Choice: vehicles are read together and assessed on all processors; where
// nothing changed nothing is written. Rejected: assessing one vehicle after
// another as a recorded event does, which takes a query for each.
//
// # A wheel keeps its latest measurement (November 2026)
//
// Choice: its geometry is that of the job with the latest time, whenever that was
// recorded, and the wheel keeps which job; a withdrawn job gives way to the newest
// that is left. Its run-out is always worked out from the checks that are not
// superseded; what a fit copied of the rim is replaced in a replay if its check
// was withdrawn. Rejected: the measurement that was recorded last, which a late
// entry would make wrong.
//
// # A new tread is not withdrawn (November 2026)
//
// Context: a return from the retreader with a new tread changes the tire itself.
// Choice: it cannot be corrected or withdrawn; the tire is edited. Rejected:
// undoing it, which would have to undo edits of the tire made since.
//
// # The box of weights belongs to the depot (November 2026)
//
// Choice: whoever records work may keep the box (KeepBox), although only a
// manager edits the rest of the depot: it is the shop's own knowledge and no
// finding depends on it. Rejected: a thing of its own with a permission of its
// own.
//
// # Photos are rows of the database (2026-11-25)
//
// Choice: at most models.MaxPhotos a reading, 700,000 bytes and 2048 pixels a side.
// The server encodes each one anew (encodeAnew), so that only the picture is kept and
// not, for instance, where it was taken. A backup of the database contains them.
package fleet
