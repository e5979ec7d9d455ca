package simcam

import (
	"image"
	"image/color"
	"math"
)

// Photo takes a photo of what the panel shows.
func (c *Camera) Photo(panel image.Image) *image.RGBA { return c.Take(panel, Shot{}) }

// Take takes a photo under the conditions of s.
func (c *Camera) Take(panel image.Image, s Shot) *image.RGBA {
	if s.Frozen && c.photo != nil {
		return c.photo
	}
	s = c.wander(s)
	c.Last = s
	table := c.emit(panel)
	seed := c.rnd.Uint64()
	parallel(0, c.Rig.PhotoHeight, func(lo, hi int) { c.expose(table, s, seed, lo, hi) })
	out := image.NewRGBA(image.Rect(0, 0, c.Rig.PhotoWidth, c.Rig.PhotoHeight))
	parallel(0, c.Rig.PhotoHeight, func(lo, hi int) { c.develop(out, s, lo, hi) })
	if s.Half {
		out = half(out)
	}
	c.photo = out
	return out
}

// half keeps every second pixel of every second row.
func half(m *image.RGBA) *image.RGBA {
	out := image.NewRGBA(image.Rect(0, 0, m.Rect.Dx()/2, m.Rect.Dy()/2))
	for v := range out.Rect.Dy() {
		for u := range out.Rect.Dx() {
			out.SetRGBA(u, v, m.RGBAAt(2*u, 2*v))
		}
	}
	return out
}

// emit gives the light that each stripe of each panel pixel sends to each channel of the
// sensor: three tables of 3 x Width x Height.
func (c *Camera) emit(panel image.Image) *[3][]float32 {
	r, b := c.Rig, panel.Bounds()
	var tone [256]float64
	for i := range tone {
		tone[i] = r.Black + (1-r.Black)*math.Pow(float64(i)/255, r.Gamma)
	}
	x := r.Crosstalk
	mix := [3][3]float64{{1 - x, x * 0.8, x * 0.2}, {x / 2, 1 - x, x / 2}, {x * 0.1, x * 0.9, 1 - x}}
	sees := [3]float64{0.85, 1, 0.75} // the sensor is least sensitive to blue
	var t [3][]float32
	for ch := range t {
		t[ch] = make([]float32, 3*r.Width*r.Height)
	}
	fill := (1 - r.Gap) * (1 - r.Gap)
	for y := range r.Height {
		for xx := range r.Width {
			n := color.NRGBAModel.Convert(panel.At(b.Min.X+xx, b.Min.Y+y)).(color.NRGBA)
			code := [3]uint8{n.R, n.G, n.B}
			for stripe := range 3 {
				p := stripe
				if r.BGR {
					p = 2 - stripe
				}
				// A stripe is a third of the pixel, so it shines three times as bright.
				l := 3 / fill * r.White * float64(c.light[y*r.Width+xx]) * tone[code[p]]
				for ch := range 3 {
					t[ch][(y*r.Width+xx)*3+stripe] = float32(l * mix[ch][p] * sees[ch])
				}
			}
		}
	}
	return &t
}

// bayer gives the colour of a sensor pixel: RGGB.
func bayer(u, v int) int { return [2][2]int{{0, 1}, {1, 2}}[v&1][u&1] }

// gather sums the light that a photo pixel sees of the panel around x, y, in panel pixels. It takes most of a photo's time.
func (c *Camera) gather(table []float32, x, y float32, sigma [2]float32) (sum float32) {
	if !c.near(x, y) {
		return 0
	}
	wide, high := 3*c.Rig.Width, c.Rig.Height
	var across, down [widest]float32
	left, n := c.stripe.weigh(3*x, sigma[0], &across)
	top, m := c.row.weigh(y, sigma[1], &down)
	from, to := max(0, -left), min(n, wide-left)
	if from >= to {
		return 0
	}
	for j := max(0, -top); j < min(m, high-top); j++ {
		line, by := table[(top+j)*wide+left+from:][:to-from], across[from:to]
		var s float32
		for i, l := range line {
			s += l * by[i]
		}
		sum += s * down[j]
	}
	return sum
}

// expose fills rows of the raw picture.
func (c *Camera) expose(t *[3][]float32, s Shot, seed uint64, lo, hi int) {
	r := c.Rig
	w, h := r.PhotoWidth, r.PhotoHeight
	state := seed ^ uint64(lo+1)*0x9e3779b97f4a7c15
	gain := [3]float32{float32(s.Exposure * s.Balance[0]), float32(s.Exposure), float32(s.Exposure * s.Balance[1])}
	patches := append([]Patch{c.glare}, s.Glare...)
	for v := lo; v < hi; v++ {
		ripple := float32(1 + r.Ripple*math.Sin(2*math.Pi*float64(v)/r.Period+s.Phase))
		for u := range w {
			ch := bayer(u, v)
			i := v*w + u
			var sum float32
			if u >= c.box.Min.X && u < c.box.Max.X && v >= c.box.Min.Y && v < c.box.Max.Y && u+1 < w && v+1 < h {
				x, y := c.px[i], c.py[i]
				ux, uy := c.px[i+1]-x, c.py[i+1]-y
				vx, vy := c.px[i+w]-x, c.py[i+w]-y
				mx := float32(s.Turn*(float64(v)-float64(h-1)/2) - s.MoveX)
				my := float32(-s.Turn*(float64(u)-float64(w-1)/2) - s.MoveY)
				// One half more, so that whole numbers are the edges of panel pixels.
				x, y = x+ux*mx+vx*my+0.5, y+uy*mx+vy*my+0.5
				sum = ripple * c.gather(t[ch], x, y, c.sigma(i))
			}
			du, dv := float64(u)-float64(w)/2, float64(v)-float64(h)/2
			for k := range s.Hand {
				p := &s.Hand[k]
				if d := math.Hypot(float64(u)-p.X, float64(v)-p.Y); d < p.Radius+6 {
					cover := float32(min(1, (p.Radius+6-d)/12))
					sum = sum*(1-cover) + cover*float32(p.Level)*[3]float32{1, 0.7, 0.6}[ch]
				}
			}
			for k := range patches {
				p := &patches[k]
				dx, dy := float64(u)-p.X, float64(v)-p.Y
				if q := (dx*dx + dy*dy) / (2 * p.Radius * p.Radius); q < 8 {
					sum += float32(p.Level * math.Exp(-q))
				}
			}
			for _, l := range s.Lamps {
				if d := math.Hypot(float64(u)-l.X, float64(v)-l.Y); d < l.Radius+1 {
					level := float64([3]uint8{l.Colour.R, l.Colour.G, l.Colour.B}[ch]) / 255
					sum += float32(0.9 * level * min(1, l.Radius+1-d))
				}
			}
			sum += float32(r.Ambient)
			sum *= gain[ch] * float32(1-r.Vignette*(du*du+dv*dv)/float64(w*w+h*h)*4)
			state ^= state << 13
			state ^= state >> 7
			state ^= state << 17
			sum += c.normals[state>>48] * float32(math.Sqrt(r.Read*r.Read+r.Shot*float64(max(0, sum))))
			c.raw[i] = min(1, max(0, sum))
		}
	}
}

// develop interpolates the mosaic (bilinear), balances white and applies the curve.
func (c *Camera) develop(out *image.RGBA, s Shot, lo, hi int) {
	w, h := c.Rig.PhotoWidth, c.Rig.PhotoHeight
	at := func(u, v int) float32 {
		if u < 0 {
			u = -u
		}
		if v < 0 {
			v = -v
		}
		if u >= w {
			u = 2*w - 2 - u
		}
		if v >= h {
			v = 2*h - 2 - v
		}
		return c.raw[v*w+u]
	}
	balance := [3]float32{1 / 0.85, 1, 1 / 0.75}
	top := float32(len(c.curve) - 1)
	for v := lo; v < hi; v++ {
		for u := range w {
			var l, r, a, b, d [4]float32 // left, right, above, below, diagonal
			if u > 0 && v > 0 && u < w-1 && v < h-1 {
				i := v*w + u
				l[0], r[0], a[0], b[0] = c.raw[i-1], c.raw[i+1], c.raw[i-w], c.raw[i+w]
				d = [4]float32{c.raw[i-w-1], c.raw[i-w+1], c.raw[i+w-1], c.raw[i+w+1]}
			} else {
				l[0], r[0], a[0], b[0] = at(u-1, v), at(u+1, v), at(u, v-1), at(u, v+1)
				d = [4]float32{at(u-1, v-1), at(u+1, v-1), at(u-1, v+1), at(u+1, v+1)}
			}
			me := c.raw[v*w+u]
			cross := (l[0] + r[0] + a[0] + b[0]) / 4
			diag := (d[0] + d[1] + d[2] + d[3]) / 4
			var rgb [3]float32
			switch {
			case v&1 == 0 && u&1 == 0:
				rgb = [3]float32{me, cross, diag}
			case v&1 == 1 && u&1 == 1:
				rgb = [3]float32{diag, cross, me}
			case v&1 == 0:
				rgb = [3]float32{(l[0] + r[0]) / 2, me, (a[0] + b[0]) / 2}
			default:
				rgb = [3]float32{(a[0] + b[0]) / 2, me, (l[0] + r[0]) / 2}
			}
			o := out.PixOffset(u, v)
			for k := range rgb {
				out.Pix[o+k] = c.curve[int(min(1, max(0, rgb[k]*balance[k]))*top+0.5)]
			}
			out.Pix[o+3] = 255
		}
	}
}
