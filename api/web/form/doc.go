// Package form reads forms and shows them again. An Entry is a form as it was
// sent, with what is wrong beside each field; nothing that was typed is dropped
// on a refusal. Fields and sections are what a page shows of it. Numbers are
// read in the units and the notation of the person who types. The package knows
// no request and decides nothing: what is believed is up to package fleet.
package form
