// Package site has what every room of the pages needs: who sends a request and how
// they read, sign-in and first start, the frame and the layout around a page,
// lists that come in pages, forms that are shown again, and the page about what
// went wrong. A room adds its templates by AddPages and its handlers by Get and
// Post, which let in only people who are signed in.
//
// What a person may do is decided by package fleet; the site only hides buttons.
//
// # A list counts its vehicles up to 1,000 (2026-11-26)
//
// Choice: the first page says "The first 50 of 812 vehicles", or "of more than 1,000"
// (VehicleEnds), so that it costs the same for a fleet of any size.
//
// # Every sheet of paper says when, where and for whom (2026-11-26)
//
// Choice: the frame carries the time, the zone and the person (frame.Now, frame.Zone,
// frame.Person), which only print shows: a sheet leaves the screen that it came from.
package site
