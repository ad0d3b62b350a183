// Package static has the scripts, styles and pictures of the pages as they are
// served: under a folder whose name changes with their content, so that browsers
// keep them for good and a phone drops old ones. It finds out which script imports
// which, for the tags of pages and for what a phone keeps without a network.
//
// All scripts lie in this one folder, since they import each other by relative
// names, on the disk as in the browser.
//
// # Keys and buttons are 48 pixels high on every page (2026-11-26)
//
// Choice: the token --tap in style.css, for hands in gloves.
//
// # Dark colors are for screens only (2026-11-26)
//
// Choice: the tokens for dark are set under "screen", so that paper is always light;
// the class onpaper marks what only paper shows.
//
// # A failed swap is shown in the words of the error page (2026-11-26)
//
// Choice: swaps.js takes the lines of the error page that the server sends and shows
// them above what is there. Whoever was signed out keeps what was typed: a list or a
// form goes to the sign-in page; on the bench, which asks while one types, that
// waits until a button is pressed.
//
// # The service worker is a module (2026-11-30)
//
// Context: the worker shares keep.js and send.js with the pages. Choice: a module, which
// Chrome 91, Safari 15 and Firefox 147 (January 2026) run. An older Firefox shows no page
// without a network; what was entered is kept and sent all the same. /worker.js keeps
// one address and imports the worker of its version. Rejected: a plain script, which
// cannot share modules without a bundler.
//
// # Files of an earlier version stay until the kept page is renewed (2026-11-30)
//
// Context: a phone can get new files while it cannot fetch the page. Choice: the worker
// renews the kept page when it is installed and deletes older files only if the page
// asks for the new ones. Rejected: to delete them at once, after which the yard would
// open without its scripts.
package static

import "html/template"

// Funcs are the functions by which templates name files of this package.
var Funcs = template.FuncMap{"asset": Asset, "module": Module}
