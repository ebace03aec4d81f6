package align

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"markaround/rubric"
)

// forklift is an invented sheet of the daily check of a lift truck, which 29
// CFR 1910.178(q)(7) asks for without naming items or figures (from memory).
var forklift = filepath.Join("..", "rubric", "testdata", "valid", "forklift.yaml")

// TestOtherTrade marks a spoken daily check of a lift truck: what align knows
// must come from the sheet. Sheet, figures and student are invented.
func TestOtherTrade(t *testing.T) {
	m := matcher(t, forklift)
	tr := talk(
		turn{0, "Trainer", "at the mast, please. are the tines cracked?"},
		turn{4, "Student", "at the mast. the tine blades are not cracked and not bent. the heels are at least one and three eighths of an inch thick."},
		turn{20, "Student", "the locking pins are seated. the chains of the lift are not cracked or bent."},
		turn{40, "Student", "now the seat belt, it latches. the horn is silent."},
		turn{60, "Student", "cylinder valve is dry, the gauge is at one hundred fifty psi."},
		turn{70, "Student", "the hose is dry, the gauge is at one forty eight psi."},
		turn{80, "Student", "the drive tires have full rubber."},
	)
	s := m.Grade(tr, Options{})
	for _, b := range wrongs(s, "mast.blades=said mast.blades/thickness:at_least_1_3/8_inches mast.pins=said mast.chains=said seat.belt=said "+
		"seat.horn=wrong tank.valve=said tank.hose=heard tank.tires=said seat.beacon=missed") {
		t.Error(b)
	}
	if got := findings(s, rubric.HoldFinding); got != "settle" {
		t.Errorf("ten seconds of thirty: %q", got)
	}
	if got := findings(s, rubric.OrderFinding); got != "" {
		t.Errorf("in order: %q", got)
	}
	sane(t, m.rubric, tr, s)

	// The other way round, too thin, and not locked in.
	bad := m.Grade(talk(turn{text: "at the mast. the tines are bent. the heels are at least one inch thick. the locking pins popped up."}), Options{})
	for _, b := range wrongs(bad, "mast.blades=wrong mast.blades/thickness=wrong mast.chains=missed") {
		t.Error(b)
	}
}

// tradeWords are of trucks and their inspection; none belongs in a string of
// the matcher's code.
var tradeWords = regexp.MustCompile(`(?i)\b(trucks?|vehicles?|trailers?|tractor|bus|axles?|brakes?|tires?|wheels?|hoses?|mirrors?|lens(es)?|lamps?|bulbs?|engine|clutch|pedal|` +
	`windshield|wipers?|horn|steering|drag link|tie rod|pitman|kingpin|coupling|glad ?hands?|fifth wheel|governor|compressor|psi|tread|lug|` +
	`dvir|roadworthy|cdl|drive|driver|cab|hood|chocks?|valves?|knobs?|fuel|oil|coolant|air)\b`)

// known are those that stand there now: words that the matcher takes for any
// speech, and what a driver does about a defect. The list may only shrink.
var known = set("truck", "vehicle", "knob", "air", "not roadworthy", "would not drive", "wouldn't drive", "not drive", "dvir", "bulb changed", "needs air")

// TestNoTradeInCode looks for words of the trade in the string literals of the
// matcher: they belong in the rubric.
func TestNoTradeInCode(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) == 0 {
		t.Fatalf("no files: %v", err)
	}
	n := 0
	for _, name := range files {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		set := token.NewFileSet()
		f, err := parser.ParseFile(set, name, data, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(node ast.Node) bool {
			lit, ok := node.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			n++
			text, err := strconv.Unquote(lit.Value)
			if err != nil {
				t.Fatal(err)
			}
			if tradeWords.MatchString(text) && !known[text] {
				t.Errorf("%s: %q is of the trade", set.Position(lit.Pos()), text)
			}
			return true
		})
	}
	if n < 100 {
		t.Errorf("only %d strings looked at", n)
	}
}
