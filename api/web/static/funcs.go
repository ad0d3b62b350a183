// Package static has the scripts, styles and pictures of the pages as they are
// served: under a folder whose name changes with their content, so that browsers
// keep them for good and a phone drops old ones. It finds out which script imports
// which, for the tags of pages and for what a phone keeps without a network.
//
// All scripts lie in this one folder, since they import each other by relative
// names, on the disk as in the browser.
package static

import "html/template"

// Funcs are the functions by which templates name files of this package.
var Funcs = template.FuncMap{"asset": Asset, "module": Module}
