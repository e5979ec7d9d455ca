package atlas

import (
	"image"
	"image/color"
)

const (
	cell = 16 // pixels a side
	// Two pictures are one screen if no more than 7/20 of the cells in which either shows something differ.
	// Chosen on the demo's goldens: of two pictures of one screen, in another language too, up to 34 % differ;
	// of two lists in the same frame 37 % and more.
	alikeOf, alikeIn = 7, 20
)

// A Signature is what a picture is recognised by: what each cell shows, and whether that is more than one
// flat colour.
type Signature struct {
	width, height int
	cells         []uint64
	flat          []bool
}

// Sign makes a picture's signature.
func Sign(m image.Image) Signature {
	b := m.Bounds()
	s := Signature{width: b.Dx(), height: b.Dy()}
	rgba, fast := m.(*image.RGBA)
	for y := b.Min.Y; y < b.Max.Y; y += cell {
		for x := b.Min.X; x < b.Max.X; x += cell {
			h, first, flat := uint64(14695981039346656037), uint32(0), true
			box := image.Rect(x, y, x+cell, y+cell).Intersect(b)
			for j := box.Min.Y; j < box.Max.Y; j++ {
				for i := box.Min.X; i < box.Max.X; i++ {
					var p uint32
					if fast {
						o := rgba.PixOffset(i, j)
						p = uint32(rgba.Pix[o])<<16 | uint32(rgba.Pix[o+1])<<8 | uint32(rgba.Pix[o+2])
					} else {
						c := color.RGBAModel.Convert(m.At(i, j)).(color.RGBA)
						p = uint32(c.R)<<16 | uint32(c.G)<<8 | uint32(c.B)
					}
					if i == box.Min.X && j == box.Min.Y {
						first = p
					}
					flat = flat && p == first
					h = (h ^ uint64(p)) * 1099511628211 // FNV-1a, a pixel at a time
				}
			}
			s.cells, s.flat = append(s.cells, h), append(s.flat, flat)
		}
	}
	return s
}

// Alike reports whether two pictures show one screen.
func (s Signature) Alike(o Signature) bool { return s.Unlike(o) <= float64(alikeOf)/alikeIn }

// Unlike is the part of the cells in which either picture shows something that differ, from 0 to 1.
func (s Signature) Unlike(o Signature) float64 {
	if s.width != o.width || s.height != o.height {
		return 1
	}
	shown, differ := 0, 0
	for i := range s.cells {
		same := s.cells[i] == o.cells[i]
		if s.flat[i] && same {
			continue
		}
		shown++
		if !same {
			differ++
		}
	}
	return float64(differ) / float64(max(shown, 1))
}

// Differ returns the cells that two pictures of one size show differently.
func (s Signature) Differ(o Signature) []int {
	var out []int
	for i := range s.cells {
		if i >= len(o.cells) || s.cells[i] != o.cells[i] {
			out = append(out, i)
		}
	}
	return out
}

// Without is a hash of the picture but for some cells.
func (s Signature) Without(cells map[int]bool) uint64 {
	h := uint64(s.width)<<32 | uint64(s.height)
	for i, c := range s.cells {
		if !cells[i] {
			h = (h^c)*0x9e3779b97f4a7c15 + uint64(i)
			h ^= h >> 29
		}
	}
	return h
}

// Cells is how many cells there are.
func (s Signature) Cells() int { return len(s.cells) }

// Busy returns the middles of the cells that are more than a flat colour, with the cells joined that lie
// side by side: where a person would try to touch a screen that tells nothing of itself.
func (s Signature) Busy() []image.Point {
	across := (s.width + cell - 1) / cell
	var out []image.Point
	for i := 0; i < len(s.cells); {
		if s.flat[i] {
			i++
			continue
		}
		j := i
		for j < len(s.cells) && j/across == i/across && !s.flat[j] && j-i < 6 {
			j++
		}
		x := (i%across*cell + ((j-1)%across+1)*cell) / 2
		out = append(out, image.Pt(min(x, s.width-1), min(i/across*cell+cell/2, s.height-1)))
		i = j
	}
	return out
}

// Alike reports whether two pictures show one screen.
func Alike(a, b image.Image) bool { return Sign(a).Alike(Sign(b)) }
