package speech

import "testing"

// The first case is the example of SCTK, doc/infmts.htm.
func TestReadCTM(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "the manual's example: a confidence need not be one", in: ";;\n;;  Comments follow ';;'\n;;\n7654 A 11.34 0.2  YES -6.763\n7654 A 12.00 0.34 YOU -12.384530\n7654 A 13.30 0.5  CAN 2.806418\n7654 A 17.50 0.2  AS 0.537922\n",
			want: "11.34-13.8 YES YOU CAN\n17.5-17.7 AS\n"},
		{reason: "channels are speakers", in: "r A 1.0 0.5 air\nr B 1.2 0.5 louder\nr A 1.6 0.4 lines\n", want: "1-1.5 A: air\n1.2-1.7 B: louder\n1.6-2 A: lines\n"},
		{reason: "a speaker in the eighth field", in: "r 1 1.0 0.5 air 0.9 lex spk_0\nr 1 1.6 0.5 ready 0.9 lex spk_1\n", want: "1-1.5 spk_0: air\n1.6-2.1 spk_1: ready\n"},
		{reason: "the first alternative counts", in: "r A * * <ALT_BEGIN>\nr A 1.0 0.5 air\nr A * * <ALT>\nr A 1.0 0.5 hair\nr A * * <ALT_END>\nr A 1.6 0.5 lines\n", want: "1-2.1 air lines\n", warns: "line 3: an alternative was left out"},
		{reason: "the null word is none", in: "r A 1.0 0.5 @\nr A 1.6 0.5 lines\n", want: "1.6-2.1 lines\n"},
		{reason: "a negative duration", in: "r A 1.0 0.5 air\nr A 1.6 -1 lines\nr A 3.0 0.5 hose\n", want: "1-3.5 air ~lines hose\n", warns: "line 2: unusable begin 1.6 and duration -1"},
		{reason: "a damaged record", in: "r A 1.0 0.5 air\nr A what is this\nr A 1.6 0.5 lines\nr A 2.6 0.5 fine\nr A 3.6 0.5 fine\n", want: "1-4.1 air lines fine fine\n", warns: `line 2: not a record`},
		{reason: "out of order", in: "r A 5.0 0.5 lines\nr A 1.0 0.5 air\n", want: "1-1.5 air\n5-5.5 lines\n", warns: "times run backwards"},
		{reason: "two recordings", in: "r A 1.0 0.5 air\nq A 1.6 0.5 lines\n", err: `in:2: a second recording "q" after "r"; split the file`},
		{reason: "none", format: CTM, in: ";; nothing\n", err: "no CTM record"},
	})
}
