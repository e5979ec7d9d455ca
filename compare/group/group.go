// Package group folds what differs between many pairs of pictures into groups that a person would
// call one change: the same displacement, the same pair of colours, the same way of drawing edges, the
// same patch become the same other patch, the same step of a list.
//
// Pairs of pictures go in, groups come out, the likeliest defects first. Each differing pixel belongs to
// one region and each region to one group, so that a group can be taken as approved and the rest
// of a look held up again: see [Result.Left]. What nothing explains is never put into a crowd.
//
// Where the pictures came from is not known here. Declined: what a change was meant to be. A
// rank says where to look first, not what is right.
package group

import (
	"image"

	"github.com/fascia-bench/fascia/compare"
)

// Pair is one look, before and after.
type Pair struct {
	// Pictures gives both. It is called up to three times, and by several goroutines; its error should
	// name the file.
	Pictures func() (before, after image.Image, err error)
	// Ignore lists rectangles whose pixels do not count.
	Ignore []image.Rectangle
	// Previous is the index of the pair that the panel showed before this one, by which stale and torn
	// pictures are told; any other number where it is not known.
	Previous int
}

// Seen says whether a person would see a change.
type Seen string

// From what nobody sees to what everybody does.
const (
	No     Seen = "no"
	Subtle Seen = "subtle"
	Yes    Seen = "yes"
)

// Region is a part of one look that changed for one reason. Its box is tight in panel coordinates;
// boxes of several regions may overlap, their pixels do not.
type Region struct {
	X      int            `json:"x"`
	Y      int            `json:"y"`
	W      int            `json:"w"`
	H      int            `json:"h"`
	Pixels int            `json:"pixels"`
	Cause  string         `json:"cause"`
	Detail compare.Detail `json:"detail"`
	Seen   Seen           `json:"seen"`

	mask []span
	feat features
	kept bool // of a line that was not redrawn
}

// Rect gives the region's box in panel coordinates.
func (r *Region) Rect() image.Rectangle { return image.Rect(r.X, r.Y, r.X+r.W, r.Y+r.H) }

// Member is a look's part in a group.
type Member struct {
	Look    int // index of the pair
	Regions []Region
}

// Group is one change.
type Group struct {
	// Cause is a cause of package compare, or "shade": colours a step or two off, as of gradients and
	// shadows.
	Cause  string
	Detail compare.Detail
	// Says names the change in one sentence.
	Says string
	// Rank is 1 for what should be looked at first; groups and singles are ranked together.
	Rank int
	// Seen is how well it is seen where it is seen best.
	Seen    Seen
	Members []Member

	score float64
}

// Result is what came of all pairs.
type Result struct {
	Same int // pairs without a difference
	// Groups are changes on several looks, Single those on one; both by rank.
	Groups []Group
	Single []Group
}

// All gives groups and singles by rank.
func (r *Result) All() []*Group {
	out := make([]*Group, len(r.Groups)+len(r.Single))
	for _, list := range [][]Group{r.Groups, r.Single} {
		for i := range list {
			out[list[i].Rank-1] = &list[i]
		}
	}
	return out
}
