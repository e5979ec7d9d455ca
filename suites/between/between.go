// Package between pairs the looks of two runs, of a run and its goldens, or of two folders of
// pictures, and folds what differs into groups.
//
// Looks are paired by walk and name; in folders by file name, the subfolder standing for the walk. A
// look that only one side has is told and not compared.
package between

import (
	"image"
	"slices"

	"github.com/fascia-bench/fascia/compare"
	"github.com/fascia-bench/fascia/compare/group"
)

// A Pairing is two sides laid out for comparing.
type Pairing struct {
	Looks                 []Look
	OnlyBefore, OnlyAfter []Name
	// Uncaptured are looks that one side came to, or should have, without a picture.
	Uncaptured []Name

	boards *boards
}

// Name is a look by its walk and name; in a plain folder by its subfolder and file.
type Name struct {
	Walk string `json:"walk"`
	Look string `json:"look"`
	// Why says why there is no picture, where that is known.
	Why string `json:"why,omitempty"`
}

// Look is a look that both sides have.
type Look struct {
	Name
	before, after func() (image.Image, error)
	// unchecked are the areas that the walks of either side leave out, in that side's pixels.
	unchecked [2][]image.Rectangle
	previous  int // index of the look before, or -1
	// mayBePhoto is false where a device sent the pictures: what it sends is exact, whatever it shows.
	mayBePhoto bool
	photos     bool // both are photos for certain, as runs kept them
	boards     *boards
}

// Pictures reads both pictures and brings them on to one panel, where that can be done.
func (l *Look) Pictures() (before, after image.Image, err error) {
	if before, err = l.before(); err != nil {
		return nil, nil, err
	}
	if after, err = l.after(); err != nil {
		return nil, nil, err
	}
	before, after = l.boards.onOne(newShot(before, l.unchecked[0]), newShot(after, l.unchecked[1]))
	if l.photos || l.mayBePhoto && photos(before, after) {
		l.boards.say("Photos: the light of after is brought to that of before, and what noise, blur and half a pixel explain is left out. Thin lines, edges of letters and small steps of colour cannot be compared.")
		before, after = developed(before, after)
	}
	return before, after, nil
}

// ignored are the areas that do not count, where both sides have one size; else Pictures has made them alike.
func (l *Look) ignored() ([]image.Rectangle, error) {
	if len(l.unchecked[0])+len(l.unchecked[1]) == 0 {
		return nil, nil
	}
	before, err := l.before()
	if err != nil {
		return nil, err
	}
	after, err := l.after()
	if err != nil || before.Bounds().Size() != after.Bounds().Size() {
		return nil, err
	}
	return slices.Concat(l.unchecked[0], l.unchecked[1]), nil
}

// Report is the outcome; it marshals to the JSON of `between --json`.
type Report struct {
	Same   int     `json:"same"`
	Groups []Group `json:"groups"`
	Single []Group `json:"single"`
	// OnlyBefore and OnlyAfter are looks of one side, Uncaptured looks without a picture.
	OnlyBefore []Name `json:"only_before"`
	OnlyAfter  []Name `json:"only_after"`
	Uncaptured []Name `json:"uncaptured,omitempty"`
	// Mapped says how boards that differ in size, depth or rotation were brought together, and what could not
	// be compared so.
	Mapped []string `json:"mapped,omitempty"`

	folded *group.Result
	looks  []Look
}

// Group is one change.
type Group struct {
	Cause  string         `json:"cause"`
	Detail compare.Detail `json:"detail"`
	Says   string         `json:"says"`
	Rank   int            `json:"rank"`
	Seen   group.Seen     `json:"seen"`
	Looks  []Changed      `json:"looks"`
}

// Changed is a look's part in a group.
type Changed struct {
	Walk    string         `json:"walk"`
	Look    string         `json:"look"`
	Regions []group.Region `json:"regions"`
}

// Compare folds what differs in a pairing.
func (p *Pairing) Compare() (*Report, error) {
	pairs := make([]group.Pair, len(p.Looks))
	for i := range p.Looks {
		l := &p.Looks[i]
		ignore, err := l.ignored()
		if err != nil {
			return nil, err
		}
		pairs[i] = group.Pair{Pictures: l.Pictures, Ignore: ignore, Previous: l.previous}
	}
	res, err := group.Fold(pairs)
	if err != nil {
		return nil, err
	}
	r := &Report{Same: res.Same, Groups: []Group{}, Single: []Group{}, folded: res, looks: p.Looks,
		OnlyBefore: orNone(p.OnlyBefore), OnlyAfter: orNone(p.OnlyAfter), Uncaptured: p.Uncaptured, Mapped: p.boards.sentences()}
	for _, g := range res.Groups {
		r.Groups = append(r.Groups, p.group(g))
	}
	for _, g := range res.Single {
		r.Single = append(r.Single, p.group(g))
	}
	return r, nil
}

func orNone(list []Name) []Name {
	if list == nil {
		return []Name{}
	}
	return list
}

func (p *Pairing) group(g group.Group) Group {
	out := Group{Cause: g.Cause, Detail: g.Detail, Says: g.Says, Rank: g.Rank, Seen: g.Seen}
	for _, m := range g.Members {
		l := p.Looks[m.Look]
		out.Looks = append(out.Looks, Changed{Walk: l.Walk, Look: l.Look, Regions: m.Regions})
	}
	return out
}

// All gives groups and singles by rank.
func (r *Report) All() []Group {
	out := make([]Group, len(r.Groups)+len(r.Single))
	for _, list := range [][]Group{r.Groups, r.Single} {
		for _, g := range list {
			out[g.Rank-1] = g
		}
	}
	return out
}

// Differ is how many looks differ.
func (r *Report) Differ() int { return len(r.looks) - r.Same }

// photos is how many of the pairs are photos of looks whose framebuffers are pairs, too.
func (r *Report) photos() (n int) {
	for _, l := range r.looks {
		if l.photos {
			n++
		}
	}
	return n
}

// Exit is the exit status that the outcome deserves: 2 where a look has no picture, 1 where anything
// differs or is on one side only, else 0.
func (r *Report) Exit() int {
	switch {
	case len(r.Uncaptured) > 0:
		return 2
	case r.Differ() > 0 || len(r.OnlyBefore)+len(r.OnlyAfter) > 0:
		return 1
	}
	return 0
}

// Left is what is still different of each look when the groups of these ranks are approved, by
// the look's index among those paired. Looks of which nothing is left are not in it.
func (r *Report) Left(approved ...int) (map[int]compare.Result, error) {
	ranks := map[int]bool{}
	for _, k := range approved {
		ranks[k] = true
	}
	open := map[int]bool{}
	for _, g := range r.folded.All() {
		if !ranks[g.Rank] {
			for _, m := range g.Members {
				open[m.Look] = true
			}
		}
	}
	out := map[int]compare.Result{}
	for i := range open {
		before, after, err := r.looks[i].Pictures()
		if err != nil {
			return nil, err
		}
		ignore, err := r.looks[i].ignored()
		if err != nil {
			return nil, err
		}
		res, _ := r.folded.Left(i, before, after, func(g *group.Group) bool { return ranks[g.Rank] }, compare.Options{Ignore: ignore})
		if !res.Same {
			out[i] = res
		}
	}
	return out, nil
}

// Look names the look of an index among those paired.
func (r *Report) Look(i int) Name { return r.looks[i].Name }

// Whose gives for boxes of a look the rank of the group that all that changed in each belongs to; 0 where several share
// it, or none. It gives nothing for a look that is not among those paired.
func (r *Report) Whose(look Name, w, h int, boxes []image.Rectangle) []int {
	for i := range r.looks {
		if l := r.looks[i].Name; l.Walk != look.Walk || l.Look != look.Look {
			continue
		}
		owner, out := r.folded.Owners(i, w, h), make([]int, len(boxes))
		for k, b := range boxes {
			b = b.Intersect(image.Rect(0, 0, w, h))
			shared := false
			for y := b.Min.Y; y < b.Max.Y; y++ {
				for x := b.Min.X; x < b.Max.X; x++ {
					if o := owner[y*w+x]; o != 0 {
						shared = shared || out[k] != 0 && out[k] != o
						out[k] = o
					}
				}
			}
			if shared {
				out[k] = 0
			}
		}
		return out
	}
	return nil
}
