// Package auth says who sends a request: a signed-in person by the session
// cookie, or a program by an API token in "Authorization: Bearer". It signs
// people in and out, slows down guessing, and admits the very first person by
// a link that the server printed. What a person may do is decided by the
// use-cases, not here.
//
// # How guessing is slowed down (2026-11-30)
//
// Context: passwords are guessed from one address or from many. A count of wrong
// tries for each account stops both, but anybody can lock its owner out with ten
// wrong tries, again and again. A count for each address allows many addresses
// guess, and one person of a yard lock out the others.
//
// Choice: each successful sign-in leaves a long-lived cookie that is signed with
// the hash of the person's password, so that it needs no place in the database
// and a new password ends it. A device with this cookie has a count of its own
// and no other: no stranger can use it up. An address from which the person
// signed in lately has the count of that address only. All others also share a
// count of the account, which is used up by ten wrong tries in a quarter of an
// hour. Whoever is refused then learns for how long, and one try from that
// address to that account passes when the time is over, even if others have used
// up the count again: a person with a new phone waits a quarter of an hour at
// most, and an attacker gets one guess more per address and quarter. A new
// password, which a manager can set, begins without wrong tries. Refused tries count
// nowhere; one that is not decided yet holds a place, and what it keeps out waits
// some seconds. While more passwords come than there are cores, known devices and
// addresses go first. Counts and addresses are in memory and bounded; a restart
// forgets them, and each of two servers counts by itself.
//
// Rejected: locking the account until a manager frees it (a stranger decides when);
// one window for all accounts (its start is known, and the first ten tries after
// it are the attacker's); a riddle to solve in the browser (needs another host, or
// keeps few out); rows for known devices (one more table to sweep, for no gain).
//
// # A session keeps when it began (2026-11-25)
//
// Context: a new password ends the person's other sessions, and every session ends
// after 14 days. Choice: the session keeps when its person signed in. Who refuses a
// session that began before the password was set, or more than 14 days ago. Rejected:
// to search the stored sessions for those of one person.
package auth
