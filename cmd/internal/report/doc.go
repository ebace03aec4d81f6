// Package report writes a marked sheet for people and for programs: text for
// the terminal, one self-contained HTML page, CSV rows and JSON.
//
// It decides what is shown first and nothing else: every mark, point and
// result comes from the sheet as it is. Text from a transcript is untrusted:
// it is escaped in HTML, kept off spreadsheet formulas in CSV, and stripped of
// control characters on the terminal.
package report
