// Package say puts what the record holds into words for a person: names of codes,
// explanations, the glossary, days and times on the clock of a depot, what an
// event or a reading was, the cautions of the trade. It takes plain values and
// knows no request, no form and no page. Quantities are written in the reader's
// units and notation, which a units.Style or a Clock carries.
package say
