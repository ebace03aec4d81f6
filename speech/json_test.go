package speech

import (
	"math"
	"strings"
	"testing"
)

// Shapes are those of the sources named in json_*.go.
func TestReadWhisper(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "segments with words", in: `{"segments":[{"start":1,"end":3,"text":" Air lines.","words":[{"word":" Air","start":1.2,"end":1.5,"probability":0.9},{"word":" lines.","start":1.6,"end":2.5,"probability":0.8}]}]}`,
			want: "1-3 Air lines.\n"},
		{reason: "segments without words", in: `{"segments":[{"start":1,"end":3,"text":" Air lines."},{"start":3.5,"end":4,"text":" Hub."}]}`,
			want: "1-3 ~Air ~lines.\n3.5-4 ~Hub.\n"},
		{reason: "parts without a space belong to the word before", in: `{"segments":[{"start":1,"end":9,"text":"","words":[{"word":" 4","start":1,"end":1.2},{"word":"/32","start":1.2,"end":2},{"word":" twenty","start":3,"end":3.5},{"word":"-five","start":3.5,"end":4},{"word":" 3","start":5,"end":5.2},{"word":".5","start":5.2,"end":5.4},{"word":" psi","start":6,"end":6.4}]}]}`,
			want: "1-9 4/32 twenty-five 3.5 psi\n"},
		{reason: "the same where spaces are not written", in: `{"segments":[{"start":1,"end":9,"text":"","words":[{"word":"4","start":1,"end":1.2},{"word":"/32","start":1.2,"end":2},{"word":"twenty","start":3,"end":3.5},{"word":"-five","start":3.5,"end":4},{"word":"1","start":5,"end":5.2},{"word":",200","start":5.2,"end":5.4},{"word":"rpm","start":6,"end":6.4}]}]}`,
			want: "1-9 4/32 twenty-five 1,200 rpm\n"},
		{reason: "a number that could not be aligned has no time", in: `{"segments":[{"start":1,"end":9,"text":"","speaker":"SPEAKER_00","words":[{"word":"loses","start":1,"end":2,"score":0.9},{"word":"4"},{"word":"psi","start":3,"end":3.5,"score":0.9}]}]}`,
			want: "1-9 SPEAKER_00: loses ~4 psi\n"},
		{reason: "speakers of words", in: `{"segments":[{"start":1,"end":9,"text":"","words":[{"word":"ready","start":1,"end":2,"speaker":"S1"},{"word":"yes","start":3,"end":4,"speaker":"S2"}]}]}`,
			want: "1-2 S1: ready\n3-9 S2: yes\n"},
		{reason: "a flat list is parted at pauses", in: `{"words":[{"word":"air","start":1,"end":1.4},{"word":"lines","start":1.5,"end":2},{"word":"hub","start":4,"end":5}]}`,
			want: "1-2 air lines\n4-5 hub\n"},
		{reason: "a flat list beside segments takes their punctuation", in: `{"segments":[{"start":1,"end":3,"text":" Air lines."},{"start":3,"end":5,"text":" Hub?"}],"words":[{"word":"air","start":1,"end":1.4},{"word":"lines","start":1.5,"end":2},{"word":"hub","start":4,"end":5}]}`,
			want: "1-2 Air lines.\n4-5 Hub?\n"},
		{reason: "a list of segments", in: `[{"start":1,"end":3,"text":" Air lines."},{"start":4,"end":5,"text":" No leaks."}]`, want: "1-3 ~Air ~lines.\n4-5 ~No ~leaks.\n"},
		{reason: "a list of words", in: `[{"word":"air","start":1,"end":1.4},{"word":"lines","start":1.5,"end":2}]`, want: "1-2 air lines\n"},
		{reason: "chunks with timestamps", in: `{"text":"","chunks":[{"timestamp":[1.0,3.0],"text":" Air lines."},{"timestamp":[4.0,null],"text":" No leaks here now."}]}`, want: "1-3 ~Air ~lines.\n4-6.4 ~No ~leaks ~here ~now.\n"},
		{reason: "words of no length", in: `{"segments":[{"start":1,"end":3,"text":"","words":[{"word":" Air","start":1,"end":1},{"word":" lines","start":1,"end":1}]}]}`, want: "1-3 Air lines\n"},
		{reason: "sounds in several words", in: `{"segments":[{"start":1,"end":3,"text":"","words":[{"word":" (air","start":1,"end":1.2},{"word":" hissing)","start":1.2,"end":2},{"word":" lines","start":2,"end":2.5}]}]}`, want: "1-3 lines\n", warns: `sounds in brackets were left out (1 in all), such as "(air hissing)"`},
		{reason: "NaN and Infinity, and the words in strings", in: `{"segments":[{"start":1,"end":3,"text":" NaN lines","avg_logprob":NaN,"x":-Infinity}]}`, want: "1-3 ~NaN ~lines\n", warns: "NaN or Infinity"},
		{reason: "times that cannot be", in: `{"segments":[{"start":1e300,"end":-5,"text":" Air lines"},{"start":4,"end":5,"text":" Hub fine"}]}`, want: "0-2 ~Air ~lines\n4-5 ~Hub ~fine\n", warns: "impossible"},
		{reason: "a word that ends before it starts", in: `{"segments":[{"start":1,"end":3,"text":"","words":[{"word":" Air","start":2,"end":1},{"word":" lines","start":2.5,"end":3}]}]}`, want: "1-3 Air lines\n", warns: `word "Air" ends at 1, before it starts at 2`},
		{reason: "a segment without times", in: `{"segments":[{"start":1,"end":2,"text":" Air lines"},{"text":" Hub fine"}]}`, want: "1-2 ~Air ~lines\n2-4 ~Hub ~fine\n", warns: "cue 2: no times"},
		{reason: "cut off", in: "{\"segments\":[\n{\"start\":1,\"end\":2,\"text\":\" Air\"},\n{\"sta", err: "in:3: the JSON is cut off; export or copy it again"},
		{reason: "damaged", in: "{\"segments\":[\n{\"start\":1,\"end\":2,,\"text\":\" Air\"}]}", err: "in:2: not well-formed JSON"},
		{reason: "another kind of value", in: `{"segments":["a"]}`, err: `in:1: a JSON string where`},
	})
}

func TestReadWhisperCPP(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "offsets are milliseconds", in: `{"transcription":[{"timestamps":{"from":"00:00:01,000","to":"00:00:03,500"},"offsets":{"from":1000,"to":3500},"text":" Air lines."}]}`, want: "1-3.5 ~Air ~lines.\n"},
		{reason: "timestamps where there are no offsets", in: `{"transcription":[{"timestamps":{"from":"00:01:01,000","to":"00:01:03,500"},"text":" Air lines."}]}`, want: "61-63.5 ~Air ~lines.\n"},
		{reason: "tokens are joined at spaces, special ones left out", in: `{"transcription":[{"offsets":{"from":1000,"to":4000},"text":" Slack adjuster, 4/32.","tokens":[{"text":"[_BEG_]","offsets":{"from":1000,"to":1000},"p":0.9},{"text":" Sl","offsets":{"from":1000,"to":1200},"p":0.9},{"text":"ack","offsets":{"from":1200,"to":1500},"p":0.7},{"text":" adjuster","offsets":{"from":1600,"to":2000},"p":0.8},{"text":",","offsets":{"from":2000,"to":2000},"p":0.8},{"text":" 4","offsets":{"from":2500,"to":2600},"p":0.8},{"text":"/","offsets":{"from":2600,"to":2700},"p":0.8},{"text":"32","offsets":{"from":2700,"to":3000},"p":0.8},{"text":".","offsets":{"from":3000,"to":3000},"p":0.8},{"text":"[_TT_150]","offsets":{"from":3000,"to":3000},"p":0.1}]}]}`, want: "1-4 Slack adjuster, 4/32.\n"},
		{reason: "a character cut in two tokens is taken from the text", in: "{\"transcription\":[{\"offsets\":{\"from\":0,\"to\":1000},\"text\":\" don’t\",\"tokens\":[{\"text\":\" don\xe2\x80\",\"offsets\":{\"from\":0,\"to\":500}},{\"text\":\"\x99t\",\"offsets\":{\"from\":500,\"to\":900}}]},{\"offsets\":{\"from\":2000,\"to\":3000},\"text\":\" leak now\"}]}", want: "0-1 don’t\n2-3 ~leak ~now\n", warns: "damaged UTF-8"},
		{reason: "one token a segment is a list of words", in: `{"transcription":[{"offsets":{"from":0,"to":400},"text":" twenty"},{"offsets":{"from":400,"to":600},"text":"-five"},{"offsets":{"from":700,"to":900},"text":" psi"},{"offsets":{"from":5000,"to":5400},"text":" hub"}]}`, want: "0-0.9 twenty-five psi\n5-5.4 hub\n"},
		{reason: "speakers", in: `{"transcription":[{"offsets":{"from":0,"to":400},"text":" ready now","speaker":"0"},{"offsets":{"from":400,"to":600},"text":" yes sir","speaker":"1"}]}`, want: "0-0.4 0: ~ready ~now\n0.4-0.6 1: ~yes ~sir\n"},
	})
}

func TestReadVosk(t *testing.T) {
	word := `{"result":[{"conf":0.9,"start":1.0,"end":1.4,"word":"air"},{"conf":0.8,"start":1.5,"end":2.0,"word":"lines"}],"text":"air lines"}`
	later := `{"result":[{"conf":0.9,"start":5.0,"end":5.4,"word":"hub"}],"text":"hub"}`
	runReadCases(t, []readCase{
		{reason: "one object", in: word, want: "1-2 air lines\n"},
		{reason: "one after the other", in: word + later, want: "1-2 air lines\n5-5.4 hub\n"},
		{reason: "by lines, silence and partial results between", in: word + "\n{\"text\":\"\"}\n{\"partial\":\"hu\"}\n" + later + "\n", want: "1-2 air lines\n5-5.4 hub\n"},
		{reason: "a list", in: "[" + word + "," + later + "]", want: "1-2 air lines\n5-5.4 hub\n"},
		{reason: "the best of n", in: `{"alternatives":[{"confidence":210.5,"result":[{"start":1.0,"end":1.4,"word":"air"}],"text":"air"},{"confidence":200,"text":"hair"}]}`, want: "1-1.4 air\n"},
		{reason: "cut off: what was whole is kept", in: word + "\n" + later[:30], want: "1-2 air lines\n", warns: "line 2: damaged or cut off JSON left out"},
		{reason: "a damaged line between", in: word + "\n{\"result\":[{]}\n" + later, want: "1-2 air lines\n5-5.4 hub\n", warns: "line 2: damaged"},
		{reason: "an utterance without word times", in: word + "\n{\"text\":\"no leaks\"}\n" + later, want: "1-2 air lines\n2-4 ~no ~leaks\n5-5.4 hub\n", warns: `line 2: no word times; "no leaks" was put after`},
		{reason: "no word times at all", in: `{"text":"air lines"}`, err: "no word in the JSON has a time; switch word times on"},
		{reason: "cut off in the first", in: word[:40], err: "the JSON is cut off"},
	})
}

func TestReadCloud(t *testing.T) {
	runReadCases(t, []readCase{
		{reason: "times as text", in: `{"results":[{"alternatives":[{"transcript":"air lines","confidence":0.9,"words":[{"startTime":"1.200s","endTime":"1.500s","word":"air"},{"startTime":"1.5s","endTime":"2s","word":"lines"}]},{"transcript":"hair lines"}]}]}`, want: "1.2-2 air lines\n"},
		{reason: "times as seconds and nanos, none for zero", in: `{"results":[{"alternatives":[{"words":[{"start_time":{},"end_time":{"nanos":500000000},"word":"air"},{"start_time":{"seconds":"1","nanos":250000000},"end_time":{"seconds":2},"word":"lines"}]}]}]}`, want: "0-2 air lines\n"},
		{reason: "offsets", in: `{"results":[{"alternatives":[{"words":[{"startOffset":"1.2s","endOffset":"1.5s","word":"air"},{"start_offset":"1.6s","end_offset":"2s","word":"lines"}]}]}]}`, want: "1.2-2 air lines\n"},
		{reason: "speakers by tag and label", in: `{"results":[{"alternatives":[{"words":[{"startTime":"1s","endTime":"2s","word":"ready","speakerTag":2},{"startTime":"3s","endTime":"4s","word":"yes","speakerLabel":"1"}]}]}]}`, want: "1-2 2: ready\n3-4 1: yes\n"},
		{reason: "the last result says all again with speakers", in: `{"results":[{"alternatives":[{"words":[{"startTime":"1s","endTime":"2s","word":"ready"}]}]},{"alternatives":[{"words":[{"startTime":"3s","endTime":"4s","word":"yes"}]}]},{"alternatives":[{"words":[{"startTime":"1s","endTime":"2s","word":"ready","speakerTag":2},{"startTime":"3s","endTime":"4s","word":"yes","speakerTag":1}]}]}]}`, want: "1-2 2: ready\n3-4 1: yes\n", warns: "the last result repeats all words"},
		{reason: "a transcript with its end alone", in: `{"results":[{"alternatives":[{"words":[{"startTime":"1s","endTime":"2s","word":"ready"}]}]},{"alternatives":[{"transcript":"air lines"}],"resultEndTime":"5s"}]}`, want: "1-2 ready\n2-5 ~air ~lines\n"},
		{reason: "behind an operation", in: `{"name":"7","done":true,"response":{"results":[{"alternatives":[{"words":[{"startTime":"1s","endTime":"2s","word":"ready"}]}]}]}}`, want: "1-2 ready\n"},
		{reason: "no times", in: `{"results":[{"alternatives":[{"transcript":"air lines"}]}]}`, err: "switch word time offsets on"},
		{reason: "another service's results", in: `{"results":{"items":[]}}`, err: `"results" is not a list`},
	})
}

func TestConfidence(t *testing.T) {
	tr, err := Read(strings.NewReader(`{"segments":[{"start":0,"end":9,"text":"","words":[{"word":" a","start":0,"end":1,"probability":0.25},{"word":" b","start":1,"end":2},{"word":" c","start":2,"end":3,"probability":-6.7},{"word":" 4","start":3,"end":4,"probability":0.9},{"word":"/32","start":4,"end":5,"probability":0.4}]}]}`), Options{})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0.25, -1, -1, 0.4} { // a word is as sure as its weakest part
		if got := tr.Words[i].Confidence; got != want {
			t.Errorf("%s has confidence %g, want %g", tr.Words[i].Text, got, want)
		}
	}
}

func TestJSONTime(t *testing.T) {
	for in, want := range map[string]float64{
		`1.5`: 1.5, `"1.5"`: 1.5, `"1.5s"`: 1.5, `"00:01:01,500"`: 61.5, `{"seconds":"1","nanos":500000000}`: 1.5, `{"seconds":2}`: 2, `{}`: 0,
		`null`: math.NaN(), `""`: math.NaN(), `"soon"`: math.Inf(1), `[1]`: math.Inf(1), `true`: math.Inf(1),
	} {
		var got jsonTime
		if err := got.UnmarshalJSON([]byte(in)); err != nil {
			t.Errorf("%s: %v", in, err)
		}
		if g := got.seconds(); g != want && !(math.IsNaN(g) && math.IsNaN(want)) {
			t.Errorf("%s is %g, want %g", in, g, want)
		}
	}
}
