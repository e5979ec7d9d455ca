package handbook

import (
	"bytes"
	_ "embed"
	"fmt"
	"html/template"
	"image"
	"strings"
	"time"

	"github.com/fascia-bench/fascia/golden"
	"github.com/fascia-bench/fascia/suites/record"
)

// generator marks the pages as this package's own, so that a new guide may take their place.
const generator = "fascia handbook"

//go:embed handbook.css
var css string

//go:embed handbook.tmpl
var pageText string

var templates = template.Must(template.New("handbook").Funcs(template.FuncMap{
	"byItself": orByItself, "says": says, "generator": func() string { return generator },
}).Parse(pageText))

// Page is the file name of a screen's page.
func (s *Screen) Page() string { return "screen-" + s.Slug + ".html" }

// A page is what the template shows.
type page struct {
	*Book
	Kind      string // index, screen, gallery
	Heading   string
	Lede      string
	Map       template.HTML
	Screen    *Screen
	Road      []leg
	Views     []shown
	Galleries []gallery // links to them
}

// A gallery is all views in one language, or all on one target.
type gallery struct{ Kind, Name, File string }

// A leg of the road to a screen: what is done, and where that leads.
type leg struct {
	Inputs []record.Input
	To     *View
}

// A shown view has its pictures with marks where it is touched to get on.
type shown struct {
	*View
	Shots []shot
	On    []onward
}

type shot struct {
	Picture
	Alt   string
	Show  image.Point // px on the page
	Marks []mark
}

// An onward way has its inputs with the letters of their marks.
type onward struct {
	To     *Screen
	Inputs []lettered
}

type lettered struct{ Letter, Says string }

// A mark is where a finger goes, in panel px; R is its radius and Size its letter's.
type mark struct {
	Letter  string
	X, Y    int
	Path    string // of a drag
	R, Size float64
}

func (b *Book) pages() (map[string][]byte, error) {
	files := map[string][]byte{}
	put := func(name string, p page) error {
		p.Book, p.Galleries = b, b.galleries()
		var out bytes.Buffer
		if err := templates.Execute(&out, p); err != nil {
			return fmt.Errorf("write handbook page %s: %w", name, err)
		}
		files[name] = out.Bytes()
		return nil
	}
	err := put(IndexFile, page{Kind: "index", Heading: b.Title, Lede: b.lede(), Map: template.HTML(b.drawMap(false))})
	if err != nil {
		return nil, err
	}
	for _, s := range b.Screens {
		p := page{Kind: "screen", Heading: s.Name, Screen: s}
		if v := s.Easiest(); v != nil {
			for _, r := range v.Road() {
				p.Road = append(p.Road, leg{r.Path, r})
			}
		}
		for _, v := range s.Views {
			p.Views = append(p.Views, v.shown(480))
		}
		if err := put(s.Page(), p); err != nil {
			return nil, err
		}
	}
	for _, g := range b.galleries() {
		p := page{Kind: "gallery", Heading: g.Kind + " " + g.Name}
		for _, v := range b.Views {
			if g.Kind == "Language" && languageName(v.Language) != g.Name {
				continue
			}
			x := v.shown(320)
			if g.Kind == "Target" {
				x.only(g.Name)
			}
			p.Views = append(p.Views, x)
		}
		if err := put(g.File, p); err != nil {
			return nil, err
		}
	}
	return files, nil
}

func (x *shown) only(target string) {
	var kept []shot
	for _, s := range x.Shots {
		if s.Target == target {
			kept = append(kept, s)
		}
	}
	x.Shots = kept
}

// lede says in a sentence what the guide holds, and how recent it is.
func (b *Book) lede() string {
	n := 0
	var last time.Time
	for _, v := range b.Views {
		for _, p := range v.Pictures {
			if p.img != nil {
				n++
				if p.Entry.When.After(last) {
					last = p.Entry.When
				}
			}
		}
	}
	return fmt.Sprintf("%d screens in %d approved pictures; the last was approved on %s.", len(b.Screens), n, last.Format(time.DateOnly))
}

// languageName names the language that the device starts in.
func languageName(l string) string {
	if l == "" {
		return "as it starts"
	}
	return l
}

func (b *Book) galleries() []gallery {
	var out []gallery
	add := func(kind, name string) {
		slug, err := golden.FileName(kind + " " + name)
		for n := 2; err == nil; n++ { // two names may share a file name
			taken := false
			for _, g := range out {
				taken = taken || g.File == slug+".html"
			}
			if !taken {
				break
			}
			slug, err = golden.FileName(fmt.Sprintf("%s %s %d", kind, name, n))
		}
		if err == nil {
			out = append(out, gallery{kind, name, slug + ".html"})
		}
	}
	if len(b.Languages) > 1 {
		for _, l := range b.Languages {
			add("Language", languageName(l))
		}
	}
	for _, t := range b.Targets {
		add("Target", t)
	}
	return out
}

// LanguageName is the view's language in words.
func (v *View) LanguageName() string { return languageName(v.Language) }

// shown prepares a view for pages on which a picture has so much room, in px.
func (v *View) shown(room int) shown {
	x := shown{View: v}
	var marks []record.Input
	var letters []string
	n := 0
	for _, w := range v.Ways {
		on := onward{To: w.To}
		for _, in := range w.Inputs {
			l := ""
			if len(in.Points) > 0 {
				l = letter(n)
				n++
				marks, letters = append(marks, in), append(letters, l)
			}
			on.Inputs = append(on.Inputs, lettered{l, in.Says})
		}
		x.On = append(x.On, on)
	}
	for _, p := range v.Pictures {
		s := shot{Picture: p, Alt: v.Look + ", screen " + v.Screen.Name + " on " + p.Target}
		s.Show = sizeIn(p.Size, room)
		if p.img != nil && room > 400 {
			k := float64(p.Size.X) / float64(s.Show.X) // panel px a page px
			for i, in := range marks {
				m := mark{Letter: letters[i], X: in.Points[0][0], Y: in.Points[0][1], R: 11 * k, Size: 13 * k}
				if len(in.Points) > 1 {
					var d strings.Builder
					for _, q := range in.Points {
						fmt.Fprintf(&d, " %d,%d", q[0], q[1])
					}
					m.Path = strings.TrimSpace(d.String())
				}
				s.Marks = append(s.Marks, m)
			}
		}
		x.Shots = append(x.Shots, s)
	}
	return x
}

// Half is what a letter is set lower than its mark's middle.
func (m mark) Half() float64 { return m.Size * .36 }

// Thin and Thick are the widths of a drag's line.
func (m mark) Thin() float64  { return m.R * .25 }
func (m mark) Thick() float64 { return m.R * .5 }

func letter(n int) string {
	if n < 26 {
		return string(rune('a' + n))
	}
	return fmt.Sprint(n + 1)
}
