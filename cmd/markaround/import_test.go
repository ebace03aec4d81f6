package main

import (
	"fmt"
	"testing"

	"markaround/cmd/internal/store"
)

func TestNewOnes(t *testing.T) {
	students := func(from, to int) (list []store.Student) {
		for i := from; i <= to; i++ {
			list = append(list, store.Student{ID: fmt.Sprint("S-", i)})
		}
		return list
	}
	for _, c := range []struct {
		list, before []store.Student
		want, reason string
	}{
		{students(1, 3), students(1, 5), "none of them new", "all there"},
		{students(1, 3), students(2, 2), "2 of them new: S-1, S-3", "some"},
		{append(students(1, 1), students(1, 1)...), nil, "1 of them new: S-1", "one that stands twice"},
		{students(1, 12), nil, "12 of them new: S-1, S-2, S-3, S-4, S-5, S-6, S-7, S-8, S-9, S-10 and 2 more", "many"},
	} {
		if got := newOnes(c.list, c.before); got != c.want {
			t.Errorf("%s: %q, want %q", c.reason, got, c.want)
		}
	}
}
