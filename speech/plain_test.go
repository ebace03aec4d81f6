package speech

import "testing"

func TestReadText(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "brackets; the end is from the number of words, not the next mark", in: "[0:05] air lines no leaks\n[1:00] hoses\n", want: "5-7.4 ~air ~lines ~no ~leaks\n60-62 ~hoses\n"},
		{reason: "the next mark bounds the end", in: "[0:05] air lines no leaks\n[0:06] hoses\n", want: "5-6 ~air ~lines ~no ~leaks\n6-8 ~hoses\n"},
		{reason: "round brackets, hours, fractions", in: "(1:00:05.5) air\n(1:00:07,25) hub\n", want: "3605.5-3607.25 ~air\n3607.25-3609.25 ~hub\n"},
		{reason: "no brackets, with and without a dash", in: "0:12 air\n0:20 - hub\n1:15.250: fan\n", want: "12-14 ~air\n20-22 ~hub\n75.25-77.25 ~fan\n"},
		{reason: "more than an hour in minutes", in: "[75:10] air\n", want: "4510-4512 ~air\n"},
		{reason: "seconds alone", in: "[12.5] air\n[75s] hub\n", want: "12.5-14.5 ~air\n75-77 ~hub\n"},
		{reason: "a mark on a line of its own", in: "0:12\nair lines\n\n0:20\nhub\n", want: "12-14 ~air ~lines\n20-22 ~hub\n"},
		{reason: "a range is believed", in: "[00:00:01.000 --> 00:00:09.500]   air lines\n[00:00:09.500 --> 00:00:10.000]  hub\n", want: "1-9.5 ~air ~lines\n9.5-10 ~hub\n"},
		{reason: "a range without brackets", in: "0:00:01.000,0:00:03.000\nair lines\n\n0:00:04.000,0:00:05.000\nhub\n", want: "1-3 ~air ~lines\n4-5 ~hub\n"},
		{reason: "a continuation belongs to the mark above", in: "[0:05] air\nlines\n\nhoses\n[0:20] hub\n", want: "5-7 ~air ~lines ~hoses\n20-22 ~hub\n"},
		{reason: "marks within a line", in: "[0:05] air lines [0:20] hub [0:30] fan\n", want: "5-7 ~air ~lines\n20-22 ~hub\n30-32 ~fan\n"},
		{reason: "text before the first mark", in: "Mock test\n[0:05] air\n", want: "0-2 ~Mock ~test\n5-7 ~air\n", warns: `line 1: text before the first time mark was put at the start: "Mock test"`},
		{reason: "with brackets, a bare 4:32 is speech", in: "[4:30] steer tire\n4:32 tread\n[5:00] rim\n", want: "270-272.4 ~steer ~tire ~4:32 ~tread\n300-302 ~rim\n"},
		{reason: "without, it is where it is out of line", in: "12:10 steer tire\n4:32 tread\n12:20 rim\n", want: "730-732.4 ~steer ~tire ~4:32 ~tread\n740-742 ~rim\n", warns: "line 2: \"4:32 tread\" is out of line"},
		{reason: "a hold of 1:00 in the middle of a line is speech", in: "[0:05] hold for 1:00 minute\n", want: "5-7.4 ~hold ~for ~1:00 ~minute\n"},
		{reason: "backwards", in: "[0:20] hub\n[0:05] air\n", want: "5-7 ~air\n20-22 ~hub\n", warns: "line 2: times run backwards from"},
		{reason: "labels after and before the mark, on the mark's line", in: "[0:05] Examiner: ready\n[0:09] STUDENT: air\nStudent 0:12\nhub\n", want: "5-7 Examiner: ~ready\n9-11 STUDENT: ~air\n12-14 Student: ~hub\n"},
		{reason: "names and times well apart on lines of their own", in: "Pat Example  0:05\nready\n\nSam Sample  0:09\nair lines\n", want: "5-7 Pat Example: ~ready\n9-11 Sam Sample: ~air ~lines\n"},
		{reason: "a part and a tread depth are not", in: "[0:05] steer axle\nTread 4:32\n", want: "5-7.4 ~steer ~axle ~Tread ~4:32\n"},
		{reason: "labels on lines of their own", in: "[0:05]\nSpeaker 1: air\nSpeaker 2: ready\n", want: "5-5.8 Speaker 1: ~air\n5.8-7 Speaker 2: ~ready\n"},
		{reason: "sixty seconds are no mark", format: Text, in: "[0:60] air\n", err: "no times found"},
		{reason: "no mark", format: Text, in: "air lines\n", err: `in: no times found in the text; put the time before each line, such as "[1:05] ..."`},
	})
}

func TestSplitLabel(t *testing.T) {
	for _, c := range []struct {
		reason        string
		in            string
		speaker, rest string
		ok            bool
	}{
		{"capitals", "EXAMINER: go on", "EXAMINER", "go on", true},
		{"small letters", "student: yes", "student", "yes", true},
		{"a number", "Speaker 12: yes", "Speaker 12", "yes", true},
		{"a letter", "Student A: yes", "Student A", "yes", true},
		{"underscore and zeros", "SPEAKER_00: yes", "SPEAKER_00", "yes", true},
		{"short form", "spk_0: yes", "spk_0", "yes", true},
		{"shorter form", "S1: yes", "S1", "yes", true},
		{"square brackets", "[Speaker 1]: yes", "Speaker 1", "yes", true},
		{"square brackets without a colon", "[SPEAKER_01] yes", "SPEAKER_01", "yes", true},
		{"round brackets, speaker not known", "(speaker ?) yes", "speaker ?", "yes", true},
		{"a name in brackets", "[Pat Example]: yes", "Pat Example", "yes", true},
		{"a dash before it", "- Driver: yes", "Driver", "yes", true},
		{"chevrons with a name", ">> PAT EXAMPLE: yes", "PAT EXAMPLE", "yes", true},
		{"chevrons alone", ">> yes", "", "yes", true},
		{"a label alone", "Student:", "Student", "", true},
		{"a part is not a speaker", "Brakes: no leaks", "", "Brakes: no leaks", false},
		{"a part of two words", "Driver side: mirror", "", "Driver side: mirror", false},
		{"several", "Drivers: left and right", "", "Drivers: left and right", false},
		{"a role in a sentence", "Driver door opens", "", "Driver door opens", false},
		{"a part in capitals", "BRAKES: no leaks", "", "BRAKES: no leaks", false},
		{"a colon within a number", "S1:30", "", "S1:30", false},
		{"a sound in brackets", "[Music] yes", "", "[Music] yes", false},
		{"a dash is not a label", "- air lines", "", "- air lines", false},
		{"a ratio", "4:32 tread", "", "4:32 tread", false},
	} {
		t.Run(c.reason, func(t *testing.T) {
			speaker, rest, ok := splitLabel(c.in)
			if speaker != c.speaker || rest != c.rest || ok != c.ok {
				t.Errorf("splitLabel(%q) = %q, %q, %v; want %q, %q, %v", c.in, speaker, rest, ok, c.speaker, c.rest, c.ok)
			}
		})
	}
}
