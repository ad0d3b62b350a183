// Package jobs does the work that is due by time: it mails each depot's digest once for
// each slot of its schedule, has vehicles assessed whose findings change with time alone,
// and learns the fleet's wear rates every night.
//
// A slot is a civil date and hour in the depot's zone (see Schedule). Every half minute
// the newest due slot of each depot is put into River's queue, in the same database as
// the record; older missed slots are not mailed.
//
// Three things keep a copy of a digest from going out twice: the job is unique for its
// depot and slot; the slot is claimed in the ledger of digests; and the ledger notes each
// recipient as soon as the mail server has accepted that copy. A copy can go out twice
// only if the program dies between the server's answer and the note; both copies then
// have the same Message-ID.
//
// Both databases run River through database/sql: SQLite on the one connection
// that writes (the driver's advice), PostgreSQL on the pool.
//
// # Decisions
//
// The schedule of a digest is cron text in the record and words on the page. A schedule
// that is not weekly appears as an option of its own and is kept when the form is saved.
// Rejected: weekday and hour as fields of the record, which cannot express the schedules
// that the API and the command line already accept. November 2026.
//
// A schedule is read on the calendar, not on the clock, so that a change to or from
// daylight saving time neither skips nor doubles a slot. Rejected: a timer that runs the
// cron library's next instant, which when tried skipped the night of the change in spring
// and fired twice in that of autumn. November 2026.
package jobs
