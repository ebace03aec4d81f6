package main

import (
	"strings"
	"testing"
)

func TestWhichItem(t *testing.T) {
	items := []itemName{{"cab.washers", "Windshield washers"}, {"coupling.kingpin", "Kingpin, apron and gap"},
		{"lights.head", "Headlights"}, {"steer.tire", "Steer tire"}, {"rear.tire", "Rear tires"}}
	for _, c := range []struct{ given, id, fault, reason string }{
		{"cab.washers", "cab.washers", "", "an id"},
		{"windshield  WASHERS", "cab.washers", "", "a title, as it is printed or typed"},
		{"kingpin", "coupling.kingpin", "", "the last part of an id"},
		{"Steer tire", "steer.tire", "", "a title of one"},
		{"tire", "", `2 items "tire"; give the id of the one that is meant: steer.tire (Steer tire), rear.tire (Rear tires)`, "two have it"},
		{"washer", "", `no item "washer"; near to it: cab.washers (Windshield washers)`, "a letter left out"},
		{"headlihgts", "", `no item "headlihgts"; near to it: lights.head (Headlights)`, "two letters exchanged"},
		{"cab.nothing", "", `no item "cab.nothing"; LIST lists them`, "like none"},
		{" ", "", `no item " "; LIST lists them`, "nothing"},
	} {
		id, fault := whichItem(items, c.given, "LIST")
		if id != c.id || fault != c.fault {
			t.Errorf("%s: %q is %q, %q; want %q, %q", c.reason, c.given, id, fault, c.id, c.fault)
		}
	}
	if _, fault := whichItem(items, "i", "LIST"); strings.Count(fault, "(") > 3 {
		t.Errorf("more than three: %s", fault)
	}
}
