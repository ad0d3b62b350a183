// Package say writes what is recorded in words for a person: names of codes,
// explanations, the glossary, days and times on the clock of a depot, what an
// event or a reading was, the cautions of the trade. It takes plain values and
// does not use requests, forms or pages. Quantities are written in the reader's
// units and notation, which a units.Style or a Clock carries.
//
// # A caution is shown once on a page (2026-11-25)
//
// Context: repeated cautions get ignored. Choice: DropRepeatedCautions keeps the first of
// each on a vehicle's page; a later card refers to the cautions above.
package say
