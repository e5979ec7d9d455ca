package handbook

import (
	"fmt"
	"strings"

	"github.com/fascia-bench/fascia/suites/report/commonmark"
)

// markdown is the whole guide as one file, in CommonMark.
func (b *Book) markdown() string {
	var o strings.Builder
	fmt.Fprintf(&o, "# %s\n\n%s\n\n![Map of screens](%s)\n", commonmark.Text(b.Title), commonmark.Text(b.lede()), MapFile)
	for _, s := range b.Screens {
		fmt.Fprintf(&o, "- [%s](#%s)\n", commonmark.Text(s.Name), anchor(s))
	}
	for _, s := range b.Screens {
		fmt.Fprintf(&o, "\n<a id=\"%s\"></a>\n\n## %s\n\n", anchor(s), commonmark.Text(s.Name))
		if v := s.Easiest(); v != nil {
			o.WriteString("How to get there:\n\n1. switch on\n")
			for i, r := range v.Road() {
				fmt.Fprintf(&o, "%d. %s: %s\n", i+2, commonmark.Text(orByItself(says(r.Path))), commonmark.Text(r.Look))
			}
		} else {
			o.WriteString("No walk looks at this screen; the firmware's log names it.\n")
		}
		for _, v := range s.Views {
			fmt.Fprintf(&o, "\n### %s\n\n", commonmark.Text(v.Look))
			if v.Note != "" {
				fmt.Fprintf(&o, "%s\n\n", commonmark.Text(v.Note))
			}
			for _, p := range v.Pictures {
				if p.img == nil {
					fmt.Fprintf(&o, "Nothing is approved for %s yet.\n", commonmark.Text(p.Target))
					continue
				}
				fmt.Fprintf(&o, "![%s on %s](%s)\n", commonmark.Text(v.Look), commonmark.Text(p.Target), p.Path)
			}
		}
		if len(s.Out) > 0 {
			o.WriteString("\nWhat leads on:\n\n")
			for _, w := range s.Out {
				fmt.Fprintf(&o, "- %s: [%s](#%s)\n", commonmark.Text(orByItself(says(w.Inputs))), commonmark.Text(w.To.Name), anchor(w.To))
			}
		}
	}
	return o.String()
}

func anchor(s *Screen) string { return "screen-" + s.Slug }
