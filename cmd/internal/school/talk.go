package school

import (
	_ "embed"
	"fmt"
	"sync"
	"time"

	"github.com/goccy/go-yaml"
)

//go:embed talk.yaml
var talkText []byte

// small is the small talk around the phrases of a score sheet, and what English
// it takes to put them into sentences. See talk.yaml.
type small struct {
	Openers      []string
	Articles     []string
	Points       []string
	Bare         []string
	Arrivals     []string
	Returns      []string
	Fillers      []string
	Hello        []string
	Goodbye      []string
	Waiting      []string
	Forms        struct{ State, Denied, Without string }
	WithoutAlone []string `yaml:"without_alone"`
	AtLeast      []string `yaml:"at_least"`
	AtMost       []string `yaml:"at_most"`
	Exactly      []string
	Between      []string
	Rules        []string
	Corrected    []string
	Units        map[string]struct{ One, Many, Part []string }
	Ones, Tens   []string
	Parts        map[int][]string
	Adjectives   []string
	Adverbs      []string
	Links        []string
	Dangling     []string
	Prepositions []string
	Places       []string
	Subjects     []string
	NamesNot     []string `yaml:"names_not"`
	Verbs        map[string]string
	Clauses      []string
	Actions      []string
	Cohorts      []string
	Sites        []string
	Instructors  []string
	Vehicles     []string
	FirstDay     string `yaml:"first_day"`
}

var talk = sync.OnceValue(func() *small {
	t := &small{}
	if err := yaml.UnmarshalWithOptions(talkText, t, yaml.Strict()); err != nil {
		panic(fmt.Sprintf("talk.yaml: %v", err)) // the file is part of the program
	}
	if _, err := time.Parse(time.DateOnly, t.FirstDay); err != nil {
		panic(fmt.Sprintf("talk.yaml: first_day: %v", err))
	}
	return t
})
