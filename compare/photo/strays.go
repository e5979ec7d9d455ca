package photo

// The shapes of a panel's faults: a pixel; a row, or a stretch of one; a column, or a stretch of one; an area.
const (
	aPixel = iota
	aRow
	aColumn
	anArea
	shapes
)

// allColours stands beside the panel's red, green and blue.
const allColours, colours = 3, 4

// How much of a line is summed up, the side of an area, and the side of what it is held against, in panel pixels.
const stretch, patchSide, aroundSide = 32, 7, 33

// strays says for every pixel how far light strays from its surroundings in a shape there, by shape and colour, as a
// share of the colour's light. A pixel and a line are weighted by about what a lens makes of them, less what lies three and four
// pixels beside; an area is a mean less that of a wider one. So light that varies smoothly is no stray.
type strays struct {
	of   [shapes][colours][]float32
	left [colours][]float32 // what they are made of: left over, and for areas and how far faults reach
}

// strays makes them. Moiré that the prediction has not got is taken out of pixels and lines first, on a card that is lit.
func (o *Optics) strays(v *sight, lit bool) *strays {
	w, h := o.Geometry.Panel[0], o.Geometry.Panel[1]
	out := &strays{left: o.byColour(&v.left, v)}
	fine := out.left
	if lit {
		fine = o.byColour(o.calm(v), v)
	}
	for c := range colours {
		for shape := range shapes {
			from := fine[c]
			if shape == anArea {
				from = out.left[c]
			}
			out.of[shape][c] = strayIn(from, shape, w, h)
		}
	}
	return out
}

// strayIn is how far a plane strays in a shape.
func strayIn(in []float32, shape, w, h int) []float32 {
	out := make([]float32, w*h)
	switch shape {
	case aPixel:
		points(in, out, w, h)
	case aRow:
		lines(in, out, line{w, 1}, line{h, w})
	case aColumn:
		lines(in, out, line{h, w}, line{w, 1})
	case anArea:
		patches(in, out, w, h)
	}
	return out
}

// byColour turns planes from the camera's channels to the panel's. All colours together weigh a channel by how little noise
// it has.
func (o *Optics) byColour(left *[3][]float32, v *sight) (out [colours][]float32) {
	n := len(left[0])
	var weight [3]float32
	var sum float32
	for c := range weight {
		weight[c] = 1 / float32(max(meanOf(v.noise[c]), 1e-9))
		sum += weight[c]
	}
	for c := range out {
		out[c] = make([]float32, n)
		by := [3]float32{weight[0] / sum, weight[1] / sum, weight[2] / sum}
		if c < allColours {
			by = [3]float32{float32(o.Colour[c][0]), float32(o.Colour[c][1]), float32(o.Colour[c][2])}
		}
		for k := range out[c] {
			out[c][k] = by[0]*left[0][k] + by[1]*left[1][k] + by[2]*left[2][k]
		}
	}
	return out
}

// points weighs 3x3 pixels as 1 2 1, 2 4 2, 1 2 1, less the mean of the 7x7 pixels' border.
func points(in, out []float32, w, h int) {
	parallel(h, func(lo, hi int) {
		for y := lo; y < hi; y++ {
			for x := range w {
				at := func(i, j int) float32 { return in[inside(y+j, y, h)*w+inside(x+i, x, w)] }
				near := 4*at(0, 0) + 2*(at(-1, 0)+at(1, 0)+at(0, -1)+at(0, 1)) + at(-1, -1) + at(1, -1) + at(-1, 1) + at(1, 1)
				var far float32
				for i := -3; i <= 3; i++ {
					far += at(i, -3) + at(i, 3)
				}
				for j := -2; j <= 2; j++ {
					far += at(-3, j) + at(3, j)
				}
				out[y*w+x] = near/16 - far/24
			}
		}
	})
}

// inside gives i, or its mirror image in at where it lies off the n that there are.
func inside(i, at, n int) int {
	if i < 0 || i >= n {
		i = 2*at - i
	}
	return min(max(i, 0), n-1)
}

// A line of a plane: how many there are, and how far apart.
type line struct{ n, step int }

// lines weighs a line and its neighbours as 1 2 1, less the mean of those three and four beside, and means that along
// a stretch.
func lines(in, out []float32, along, across line) {
	parallel(across.n, func(lo, hi int) {
		sum := make([]float32, along.n+1)
		for j := lo; j < hi; j++ {
			at := func(d int) []float32 { return in[inside(j+d, j, across.n)*across.step:] }
			mid, up, down := at(0), at(-1), at(1)
			a, b, c, d := at(-4), at(-3), at(3), at(4)
			for i := range along.n {
				k := i * along.step
				sum[i+1] = sum[i] + (2*mid[k]+up[k]+down[k]-a[k]-b[k]-c[k]-d[k])/4
			}
			for i := range along.n {
				from, to := max(0, i-stretch/2), min(along.n, i+(stretch+1)/2)
				out[j*across.step+i*along.step] = (sum[to] - sum[from]) / float32(to-from)
			}
		}
	})
}

// patches gives the mean of an area less that of a wider one.
func patches(in, out []float32, w, h int) {
	total := make([]float64, (w+1)*(h+1))
	for y := range h {
		var row float64
		for x := range w {
			row += float64(in[y*w+x])
			total[(y+1)*(w+1)+x+1] = total[y*(w+1)+x+1] + row
		}
	}
	mean := func(x, y, side int) float64 {
		a, b := max(0, x-side/2), max(0, y-side/2)
		c, d := min(w, x+side/2+1), min(h, y+side/2+1)
		return (total[d*(w+1)+c] - total[d*(w+1)+a] - total[b*(w+1)+c] + total[b*(w+1)+a]) / float64((c-a)*(d-b))
	}
	for y := range h {
		for x := range w {
			out[y*w+x] = float32(mean(x, y, patchSide) - mean(x, y, aroundSide))
		}
	}
}
