// Package cohort holds the statistics over marks: how far two markers agree.
//
// One marker is a person, whose marks ReadMarks reads from a CSV file; the
// other is this program (AddSheet) or another person. Compare lines the two up
// and counts. It judges nothing: which of the two is right is for the reader to
// say, and "theirs" and "ours" are only the order of the arguments.
//
// Every statistic carries its n and, where one is known, an interval. What
// cannot be computed from the marks at hand is marked as not defined, with the
// reason, and never appears as a number; nothing here returns NaN.
//
// Caveat: marks of one attempt are not independent of each other, so the
// intervals are narrower than a new set of attempts would bear out.
package cohort
