// Package cohort holds the statistics over marks: how far two markers agree,
// how groups of students differ, how items fare, how a student comes on.
//
// Agreement: one marker is a person, whose marks ReadMarks reads from a CSV
// file; the other is this program (AddSheet) or another person. Compare lines
// the two up and counts. It judges nothing: which of the two is right is for the
// reader to say, and "theirs" and "ours" are only the order of the arguments.
//
// The school: CompareGroups, Analyze and ProgressOf take records, one an
// attempt, with one byte an item. A database fills them with texts and numbers
// of its rows; Forms makes them of sheets. Students, not attempts, are the unit.
//
// Every statistic carries its n and, where one is known, an interval. What
// cannot be computed from the marks at hand is marked as not defined, with the
// reason, and never appears as a number; nothing here returns NaN. What is drawn
// at random comes from a seed, so that the same records give the same result.
//
// Caveat: marks of one attempt are not independent of each other, so the
// intervals of agreement are narrower than a new set of attempts would bear out.
//
// Files: marks.go, sheets.go and compare.go for agreement; stat.go,
// proportion.go, mean.go, reliability.go and resample.go for single statistics;
// record.go for records; groups.go (who counts), contrast.go (figures and tests)
// and verdict.go (adjustment and words) for groups; items.go and progress.go.
package cohort
