package yamlfile

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Int reads a whole number between lo and hi.
func (n Node) Int(lo, hi int) (int, error) {
	s, err := n.Scalar()
	if err != nil {
		return 0, err
	}
	v, err := strconv.Atoi(s)
	if err != nil {
		return 0, n.Errorf("expected a whole number, found %q", s)
	}
	if v < lo || v > hi {
		return 0, n.Errorf("%d is not between %d and %d", v, lo, hi)
	}
	return v, nil
}

// Ints reads a list of exactly len(names) whole numbers; names say what they are.
func (n Node) Ints(lo, hi int, names ...string) ([]int, error) {
	form := "[" + strings.Join(names, ", ") + "]"
	if !n.IsList() {
		return nil, n.Errorf("expected %s, found %s", form, n.what())
	}
	items, err := n.List()
	if err != nil {
		return nil, err
	}
	if len(items) != len(names) {
		return nil, n.Errorf("expected %s, found %d numbers", form, len(items))
	}
	out := make([]int, len(items))
	for i, item := range items {
		if out[i], err = item.Int(lo, hi); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// Duration reads a time with its unit, such as 250ms or 2s, between lo and hi.
func (n Node) Duration(lo, hi time.Duration) (time.Duration, error) {
	s, err := n.Scalar()
	if err != nil {
		return 0, err
	}
	d, err := time.ParseDuration(s)
	if err != nil {
		if _, number := strconv.ParseFloat(s, 64); number == nil {
			return 0, n.Errorf("%s of what? Write the unit: %sms or %ss", s, s, s)
		}
		return 0, n.Errorf("expected a time such as 250ms or 2s, found %q", s)
	}
	if d < lo || d > hi {
		return 0, n.Errorf("%v is not between %v and %v", d, lo, hi)
	}
	return d, nil
}

// Fields reads a mapping into setters by key. What is not among them is an error that lists what
// is, nearest first.
func (n Node) Fields(set map[string]func(Node) error) error {
	pairs, err := n.Map()
	if err != nil {
		return err
	}
	for _, p := range pairs {
		f, ok := set[p.Key.Text()]
		if !ok {
			names := make([]string, 0, len(set))
			for name := range set {
				names = append(names, name)
			}
			return p.Key.Errorf("unknown name %q%s", p.Key.Text(), Among(p.Key.Text(), names))
		}
		if err := f(p.Value); err != nil {
			return err
		}
	}
	return nil
}

// Among says which names there are, for an error about one that is not: the nearest first if it is
// near.
func Among(wrong string, names []string) string {
	if len(names) == 0 {
		return ": there are none"
	}
	sorted := append([]string(nil), names...)
	slices.Sort(sorted)
	best, distance := "", 3
	for _, name := range sorted {
		if d := editDistance(strings.ToLower(wrong), strings.ToLower(name)); d < distance {
			best, distance = name, d
		}
	}
	if best != "" {
		return fmt.Sprintf(": did you mean %q? There are: %s", best, strings.Join(sorted, ", "))
	}
	return ": there are " + strings.Join(sorted, ", ")
}

// editDistance counts the letters to insert, drop or change (Levenshtein 1966).
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		before := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			d := before
			if a[i-1] != b[j-1] {
				d++
			}
			before = row[j]
			row[j] = min(d, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

// Float reads a number between lo and hi.
func (n Node) Float(lo, hi float64) (float64, error) {
	s, err := n.Scalar()
	if err != nil {
		return 0, err
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		return 0, n.Errorf("expected a number, found %q", s)
	}
	if !(v >= lo && v <= hi) {
		return 0, n.Errorf("%g is not between %g and %g", v, lo, hi)
	}
	return v, nil
}
