package simcam

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
)

// A Shot is what differs from photo to photo. The rig's own wandering is added to it.
type Shot struct {
	MoveX, MoveY float64 // photo pixels
	Turn         float64 // radians about the photo's centre, before the move
	Exposure     float64 // factor; 0 means 1
	Balance      [2]float64
	Phase        float64 // of the bands, radians
	Glare        []Patch // further reflections
	Hand         []Patch // things that stand before the panel; their light is that of a hand in the dark
	Lamps        []Lamp  // lights beside the panel
	Still        bool    // no wandering: exactly as stated
	Frozen       bool    // the camera hands out its last photo again, to the bit
	Half         bool    // the camera has fallen into a mode of half the width and height
}

// A Patch is a round spot on the photo with soft edges: the light Level falls off as a Gaussian of
// standard deviation Radius for glare, and covers up to Radius with a soft rim for a hand.
type Patch struct{ X, Y, Radius, Level float64 }

// A Lamp is a light at a photo position.
type Lamp struct {
	X, Y, Radius float64
	Colour       color.RGBA
}

// A Camera takes photos on one rig. It may be used by one goroutine at a time.
type Camera struct {
	Rig  Rig
	Last Shot // of the photo taken last, wandering included
	rnd  *rand.Rand
	pose pose
	// px, py: the panel point that each photo pixel's centre sees; far outside the panel any.
	px, py  []float32
	box     image.Rectangle // of the photo pixels that may see the panel
	light   []float32       // backlight, per panel pixel
	glare   Patch
	stripe  *profile // across stripes
	row     *profile // across rows
	curve   [4096]uint8
	normals []float32
	raw     []float32
	photo   *image.RGBA // the last
}

// New sets a camera up. The seed decides wandering and noise.
func New(r Rig, seed uint64) *Camera {
	c := &Camera{Rig: r, rnd: rand.New(rand.NewPCG(seed, 77)), pose: r.pose()}
	w, h := r.PhotoWidth, r.PhotoHeight
	c.px, c.py, c.raw = make([]float32, w*h), make([]float32, w*h), make([]float32, w*h)
	box := image.Rectangle{Min: image.Pt(w, h)}
	for v := range h {
		for u := range w {
			x, y := r.unbend((float64(u)-float64(w-1)/2)/r.Focal, (float64(v)-float64(h-1)/2)/r.Focal)
			x, y = c.pose.back(x, y)
			c.px[v*w+u], c.py[v*w+u] = float32(x), float32(y)
			if x > -4 && y > -4 && x < float64(r.Width)+3 && y < float64(r.Height)+3 {
				box.Min.X, box.Min.Y = min(box.Min.X, u), min(box.Min.Y, v)
				box.Max.X, box.Max.Y = max(box.Max.X, u+1), max(box.Max.Y, v+1)
			}
		}
	}
	c.box = box
	c.light = make([]float32, r.Width*r.Height)
	bx, by := c.rnd.Float64(), c.rnd.Float64()
	for y := range r.Height {
		for x := range r.Width {
			dx, dy := float64(x)/float64(r.Width)-bx, float64(y)/float64(r.Height)-by
			c.light[y*r.Width+x] = float32(1 - r.Uneven*min(1, (dx*dx+dy*dy)/1.1))
		}
	}
	gx, gy := r.Truth(float64(r.Width)*c.rnd.Float64(), float64(r.Height)*c.rnd.Float64())
	c.glare = Patch{X: gx, Y: gy, Radius: 40 + 60*c.rnd.Float64(), Level: r.Glare}
	c.blur()
	for i := range c.curve {
		c.curve[i] = uint8(math.Round(255 * srgb(float64(i)/float64(len(c.curve)-1))))
	}
	c.normals = make([]float32, 1<<16)
	for i := range c.normals {
		c.normals[i] = float32(c.rnd.NormFloat64())
	}
	return c
}

// blur makes the profiles for all blurs that there are on the panel, of which a tilt makes several.
func (c *Camera) blur() {
	w := c.Rig.PhotoWidth
	least, most := [2]float64{math.Inf(1), math.Inf(1)}, [2]float64{}
	for v := c.box.Min.Y; v < min(c.box.Max.Y, c.Rig.PhotoHeight-1); v++ {
		for u := c.box.Min.X; u < min(c.box.Max.X, w-1); u++ {
			if !c.near(c.px[v*w+u], c.py[v*w+u]) {
				continue
			}
			for i, s := range c.sigma(v*w + u) {
				least[i], most[i] = min(least[i], float64(s)), max(most[i], float64(s))
			}
		}
	}
	c.stripe, c.row = newProfile(c.Rig.Gap, least[0], most[0]), newProfile(c.Rig.Gap, least[1], most[1])
}

// near reports whether a panel point lies on the panel or close by. Far off, where a lens can't be undone, there may be no number at all.
func (c *Camera) near(x, y float32) bool {
	const around = 9
	return x > -around && y > -around && x < float32(c.Rig.Width+around) && y < float32(c.Rig.Height+around)
}

// sigma is how wide the blur at a photo pixel is on the panel: across stripes, in their widths, and across rows. A sensor pixel's own
// square is in it by its variance.
func (c *Camera) sigma(i int) [2]float32 {
	w := c.Rig.PhotoWidth
	ux, uy := c.px[i+1]-c.px[i], c.py[i+1]-c.py[i]
	vx, vy := c.px[i+w]-c.px[i], c.py[i+w]-c.py[i]
	s := float32(math.Sqrt(c.Rig.Blur*c.Rig.Blur + 1.0/12))
	return [2]float32{3 * s * float32(math.Hypot(float64(ux), float64(vx))), s * float32(math.Hypot(float64(uy), float64(vy)))}
}

// srgb encodes light, after IEC 61966-2-1.
func srgb(l float64) float64 {
	if l <= 0.0031308 {
		return 12.92 * l
	}
	return 1.055*math.Pow(l, 1/2.4) - 0.055
}

// Truth says where a panel point is seen while the rig is where it was built.
func (r Rig) Truth(x, y float64) (u, v float64) {
	u, v = r.bend(r.pose().see(x, y))
	return u*r.Focal + float64(r.PhotoWidth-1)/2, v*r.Focal + float64(r.PhotoHeight-1)/2
}

// Truth says where a panel point was seen in the photo taken last.
func (c *Camera) Truth(x, y float64) (u, v float64) {
	u, v = c.Rig.bend(c.pose.see(x, y))
	u, v = u*c.Rig.Focal, v*c.Rig.Focal
	return u - c.Last.Turn*v + float64(c.Rig.PhotoWidth-1)/2 + c.Last.MoveX, v + c.Last.Turn*u + float64(c.Rig.PhotoHeight-1)/2 + c.Last.MoveY
}

// wander adds to a shot what a rig does by itself.
func (c *Camera) wander(s Shot) Shot {
	if s.Exposure == 0 {
		s.Exposure = 1
	}
	if s.Balance == ([2]float64{}) {
		s.Balance = [2]float64{1, 1}
	}
	if !s.Still {
		m := c.Rig.Move
		s.MoveX += m * (2*c.rnd.Float64() - 1)
		s.MoveY += m * (2*c.rnd.Float64() - 1)
		s.Exposure *= math.Exp(c.Rig.Exposure * c.rnd.NormFloat64())
		for i := range s.Balance {
			s.Balance[i] *= math.Exp(c.Rig.Balance * c.rnd.NormFloat64())
		}
		s.Phase += 2 * math.Pi * c.rnd.Float64()
	}
	return s
}

// parallel runs f over bands of rows on all processors.
func parallel(lo, hi int, f func(lo, hi int)) {
	n := runtime.GOMAXPROCS(0)
	var wg sync.WaitGroup
	for i := range n {
		a, b := lo+(hi-lo)*i/n, lo+(hi-lo)*(i+1)/n
		wg.Go(func() { f(a, b) })
	}
	wg.Wait()
}
