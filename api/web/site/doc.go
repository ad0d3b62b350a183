// Package site has what every room of the pages needs: who sends a request and how
// they read, sign-in and first start, the frame and the layout around a page,
// lists that come in pages, forms that are shown again, and the page about what
// went wrong. A room adds its templates by AddPages and its handlers by Get and
// Post, which let in only people who are signed in.
//
// What a person may do is decided by package fleet; the site only hides buttons.
package site
