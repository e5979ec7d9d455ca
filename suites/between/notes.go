package between

import (
	"fmt"
	"image"
	"image/draw"
	"os"
	"path/filepath"
	"strings"

	"github.com/disintegration/imaging"

	"github.com/fascia-bench/fascia/capture/picture"
	"github.com/fascia-bench/fascia/compare/group"
)

// NotesFile is what WriteNotes writes beside its pictures.
const NotesFile = "changes.md"

// Telling gives the look by which a group is best told, walk and name: of its looks that which shows the fewest
// other groups.
func (r *Report) Telling(g Group) Name {
	on := map[Name]int{}
	for _, o := range r.All() {
		for _, l := range o.Looks {
			on[Name{Walk: l.Walk, Look: l.Look}]++
		}
	}
	var best Name
	for i, l := range g.Looks {
		if n := (Name{Walk: l.Walk, Look: l.Look}); i == 0 || on[n] < on[best] {
			best = n
		}
	}
	return best
}

// WriteNotes writes a folder with a page in Markdown: each group with its sentence, its looks, and a cut from before and
// after. commits has by rank what is known of the commit that brought a group; it may be nil.
func (r *Report) WriteNotes(dir string, commits map[int]string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return fmt.Errorf("write notes: %w", err)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# What changed on the screens\n\n%d of %d looks changed, in %d ways.\n", r.Differ(), len(r.looks), len(r.Groups)+len(r.Single))
	for _, m := range r.Mapped {
		fmt.Fprintf(&b, "\n%s\n", m)
	}
	hidden := false
	for _, g := range r.All() {
		if g.Seen == group.No && !hidden {
			hidden = true
			fmt.Fprintf(&b, "\n# What nobody sees\n")
		}
		fmt.Fprintf(&b, "\n## %d. %s\n\n", g.Rank, escaped(g.Says))
		look := r.Telling(g)
		var files [2]string
		for k, side := range []string{"before", "after"} {
			files[k] = fmt.Sprintf("change-%02d-%s.png", g.Rank, side)
		}
		if err := r.cut(dir, files, g, look); err != nil {
			return err
		}
		fmt.Fprintf(&b, "| before | after |\n|---|---|\n| ![before](%s) | ![after](%s) |\n\n", files[0], files[1])
		fmt.Fprintf(&b, "Shown: %s.", escaped(look.String()))
		if len(g.Looks) > 1 {
			var names []string
			for _, l := range g.Looks {
				names = append(names, Name{Walk: l.Walk, Look: l.Look}.String())
			}
			fmt.Fprintf(&b, " On: %s.", escaped(strings.Join(names, ", ")))
		}
		fmt.Fprintln(&b)
		if c := commits[g.Rank]; c != "" {
			fmt.Fprintf(&b, "\nSince %s.\n", escaped(c))
		}
	}
	for _, part := range []struct {
		says string
		list []Name
	}{{"Only before", r.OnlyBefore}, {"New", r.OnlyAfter}} {
		if len(part.list) > 0 {
			fmt.Fprintf(&b, "\n# %s\n\n", part.says)
			for _, n := range part.list {
				fmt.Fprintf(&b, "- %s\n", escaped(n.String()))
			}
		}
	}
	if err := os.WriteFile(filepath.Join(dir, NotesFile), []byte(b.String()), 0o666); err != nil {
		return fmt.Errorf("write notes: %w", err)
	}
	return nil
}

// escaped keeps a name from being taken for Markdown.
func escaped(s string) string {
	return strings.NewReplacer(`\`, `\\`, "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`, "]", `\]`, "<", "&lt;", "|", `\|`, "#", `\#`).Replace(s)
}

// cutMargin is what is shown around a group's regions, and cutScale how many times as large.
const (
	cutMargin = 12
	cutScale  = 2
)

func (r *Report) cut(dir string, files [2]string, g Group, look Name) error {
	for i := range r.looks {
		l := &r.looks[i]
		if l.Name != look {
			continue
		}
		before, after, err := l.Pictures()
		if err != nil {
			return err
		}
		var box image.Rectangle
		for _, c := range g.Looks {
			if c.Walk == look.Walk && c.Look == look.Look {
				for _, q := range c.Regions {
					box = box.Union(q.Rect())
				}
			}
		}
		for k, m := range []image.Image{before, after} {
			if err := writeCut(filepath.Join(dir, files[k]), m, box.Inset(-cutMargin)); err != nil {
				return err
			}
		}
	}
	return nil
}

func writeCut(file string, m image.Image, box image.Rectangle) error {
	whole := imaging.Clone(m)
	part := box.Intersect(whole.Rect)
	if part.Empty() {
		part = whole.Rect
	}
	out := image.NewNRGBA(image.Rect(0, 0, part.Dx(), part.Dy()))
	draw.Draw(out, out.Rect, whole, part.Min, draw.Src)
	if err := picture.WritePNG(file, imaging.Resize(out, cutScale*part.Dx(), cutScale*part.Dy(), imaging.NearestNeighbor)); err != nil {
		return fmt.Errorf("write notes: %w", err)
	}
	return nil
}
