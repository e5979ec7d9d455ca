package drift

import (
	"fmt"
	"math"
	"strings"
)

// Amount writes a value of the series with its unit.
func (s *Series) Amount(v float64) string {
	switch s.Kind {
	case Boot, Settle:
		if math.Abs(v) < 10 {
			return fmt.Sprintf("%.0f ms", v*1000)
		}
		return fmt.Sprintf("%.1f s", v)
	case Wire:
		return fmt.Sprintf("%s bytes", grouped(v))
	}
	return grouped(v)
}

// grouped writes a number to at most one decimal, its thousands parted.
func grouped(v float64) string {
	text := fmt.Sprintf("%.0f", v)
	if v != math.Trunc(v) {
		text = fmt.Sprintf("%.1f", v)
	}
	whole, rest, _ := strings.Cut(text, ".")
	sign := ""
	if strings.HasPrefix(whole, "-") {
		sign, whole = "-", whole[1:]
	}
	for i := len(whole) - 3; i > 0; i -= 3 {
		whole = whole[:i] + "," + whole[i:]
	}
	if rest != "" {
		whole += "." + rest
	}
	return sign + whole
}

// Says tells a change of the series in a sentence.
func (s *Series) Says(c Change) string {
	where := "since build " + c.Build
	if c.Build == c.Previous {
		where = fmt.Sprintf("since run %s, with the same build %s before and after", c.Run, c.Build)
	}
	return fmt.Sprintf("%s: %s, then %s %s (%s)", s.Name(), s.Amount(c.Before), s.Amount(c.After), where, c.much())
}

// much says by how much a figure changed.
func (c Change) much() string {
	r := c.Relative()
	switch {
	case math.IsInf(r, 0):
		return "it was zero before"
	case r >= 1:
		return fmt.Sprintf("%.1f times as much", r+1)
	case r >= 0:
		return fmt.Sprintf("%s more", percent(r))
	}
	return fmt.Sprintf("%s less", percent(-r))
}

func percent(r float64) string {
	if r < 0.1 {
		return fmt.Sprintf("%.1f %%", r*100)
	}
	return fmt.Sprintf("%.0f %%", r*100)
}

// Evidence says what a change rests on.
func (c Change) Evidence() string {
	return fmt.Sprintf("%d runs before, %d since; chance alone parts them so in %s", c.RunsBefore, c.RunsAfter, oneIn(c.P))
}

// oneIn writes a small probability as people say it.
func oneIn(p float64) string {
	switch {
	case p <= 1e-9:
		return "less than one case in a billion"
	case p > 0.1:
		return fmt.Sprintf("%.0f of 100 cases", p*100)
	}
	n := 1 / p
	digits := math.Pow(10, math.Max(0, math.Floor(math.Log10(n))-1))
	return fmt.Sprintf("one case in %s", grouped(math.Round(n/digits)*digits))
}

// Summary says what was followed.
func (g *Group) Summary() string {
	return fmt.Sprintf("%s, target %s: %s of %s, %s followed, %d of them not the same in every run", g.Bench, g.Target,
		count(g.Runs, "run"), count(len(g.Builds), "build"), count(g.Figures, "figure"), g.Moved)
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
