package damage

import (
	"bufio"
	"bytes"
	"compress/gzip"
	_ "embed"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

//go:embed testdata/sounds.tsv.gz
var soundsFile []byte

// alike is a word that sounds like another; the heavier, the more alike.
type alike struct {
	word   string
	weight float64
}

// sounds is the table that testdata/sounds.py makes.
type sounds struct {
	alike  map[string][]alike
	rarity map[string]float64 // -10 times the decimal logarithm of the word's share of English
	parts  map[string][][2]string
	joined map[[2]string]string
}

// table reads the embedded table once. It panics on a broken table, which only
// a broken build can have.
var table = sync.OnceValue(func() *sounds {
	s, err := readSounds(soundsFile)
	if err != nil {
		panic(err)
	}
	return s
})

func readSounds(file []byte) (*sounds, error) {
	z, err := gzip.NewReader(bytes.NewReader(file))
	if err != nil {
		return nil, fmt.Errorf("sounds.tsv.gz: %w", err)
	}
	s := &sounds{map[string][]alike{}, map[string]float64{}, map[string][][2]string{}, map[[2]string]string{}}
	in := bufio.NewScanner(z)
	for line := 1; in.Scan(); line++ {
		if err := s.add(strings.Split(in.Text(), "\t")); err != nil {
			return nil, fmt.Errorf("sounds.tsv.gz:%d: %w", line, err)
		}
	}
	if err := in.Err(); err != nil {
		return nil, fmt.Errorf("sounds.tsv.gz: %w", err)
	}
	return s, nil
}

func (s *sounds) add(f []string) error {
	switch {
	case f[0] == "s" && len(f) == 4:
		rarity, err := strconv.ParseFloat(f[2], 64)
		if err != nil {
			return err
		}
		s.rarity[f[1]] = rarity
		for _, c := range strings.Fields(f[3]) {
			word, weight, _ := strings.Cut(c, ":")
			n, err := strconv.ParseFloat(weight, 64)
			if err != nil {
				return err
			}
			s.alike[f[1]] = append(s.alike[f[1]], alike{word, n})
		}
	case f[0] == "p" && len(f) == 3:
		for _, p := range strings.Fields(f[2]) {
			first, second, _ := strings.Cut(p, "_")
			s.parts[f[1]] = append(s.parts[f[1]], [2]string{first, second})
		}
	case f[0] == "j" && len(f) == 3:
		first, second, _ := strings.Cut(f[1], " ")
		s.joined[[2]string{first, second}] = f[2]
	default:
		return fmt.Errorf("unknown line %q", strings.Join(f, " "))
	}
	return nil
}
