package rectify

import (
	"encoding/json"
	"errors"
	"image"
	_ "image/png"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
)

func read(t *testing.T, name string, into any) {
	t.Helper()
	data, err := os.ReadFile("testdata/" + name)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

func points(v [][2]float64) (out []Point) {
	for _, p := range v {
		out = append(out, Point{p[0], p[1]})
	}
	return out
}

type homographies struct {
	Exact []struct {
		Name string
		From [][2]float64 `json:"from_points"`
		To   [][2]float64 `json:"to_points"`
	} `json:"exact_examples"`
	Over struct {
		Panel, Photo [][2]float64
		Sum          float64 `json:"sum_sq_least_squares"`
		Out          struct {
			Changed map[string][2]float64 `json:"photo_changed"`
			H       [][3]float64          `json:"least_squares_on_inliers"`
			Index   []int                 `json:"outlier_indices"`
			Limit   float64               `json:"threshold_px"`
		} `json:"with_outliers"`
	} `json:"overdetermined"`
	Degenerate []struct {
		Why  string
		From [][2]float64 `json:"from_points"`
		To   [][2]float64 `json:"to_points"`
	}
	Distortion struct {
		Camera struct{ FX, FY, CX, CY, K1, K2, P1, P2, K3 float64 } `json:"published_camera"`
		Undo   []struct{ Pixel, Normalised [2]float64 }             `json:"undistort"`
		Do     []struct{ Pixel, Normalised [2]float64 }             `json:"distort"`
	}
}

// TestHomographyReference: Hartley and Zisserman, Heckbert; values of testdata/homography.json.
func TestHomographyReference(t *testing.T) {
	var ref homographies
	read(t, "homography.json", &ref)
	if len(ref.Exact) < 6 || len(ref.Degenerate) < 3 || len(ref.Over.Panel) != 25 {
		t.Fatal("the reference file is not what it was")
	}
	for _, e := range ref.Exact {
		h, err := FitHomography(points(e.From), points(e.To))
		if err != nil {
			t.Errorf("%s: %v", e.Name, err)
			continue
		}
		for i, p := range points(e.From) {
			if d := h.Map(p).Sub(points(e.To)[i]).Norm(); d > 1e-8 {
				t.Errorf("%s: point %v is %g off", e.Name, p, d)
			}
		}
	}
	from, to := points(ref.Over.Panel), points(ref.Over.Photo)
	h, err := FitHomography(from, to)
	if err != nil {
		t.Fatal(err)
	}
	var sum float64
	for i := range from {
		d := h.Map(from[i]).Sub(to[i])
		sum += d.X*d.X + d.Y*d.Y
	}
	if math.Abs(sum-ref.Over.Sum) > 1e-6*ref.Over.Sum {
		t.Errorf("least squares leave %.9f, want %.9f", sum, ref.Over.Sum)
	}
	bad := slices.Clone(to)
	for _, i := range ref.Over.Out.Index {
		c := ref.Over.Out.Changed[itoa(i)]
		bad[i] = Point{c[0], c[1]}
	}
	h, in, err := FitHomographyRobust(from, bad, ref.Over.Out.Limit)
	if err != nil {
		t.Fatal(err)
	}
	m := ref.Over.Out.H
	want := Homography{m[0][0], m[0][1], m[0][2], m[1][0], m[1][1], m[1][2], m[2][0], m[2][1], m[2][2]}
	for _, p := range from {
		if d := h.Map(p).Sub(want.Map(p)).Norm(); d > 1e-3 {
			t.Errorf("with outliers, %v is mapped %g px off", p, d)
		}
	}
	if len(in) != len(from)-len(ref.Over.Out.Index) {
		t.Errorf("%d points agree, want %d", len(in), len(from)-len(ref.Over.Out.Index))
	}
	for _, e := range ref.Degenerate {
		if _, err := FitHomography(points(e.From), points(e.To)); !errors.Is(err, ErrDegenerate) {
			t.Errorf("%s: error %v", e.Why, err)
		}
	}
}

func itoa(i int) string { b, _ := json.Marshal(i); return string(b) }

// TestLensReference: Brown 1966, Conrady 1919, with the published camera of the samples of OpenCV.
func TestLensReference(t *testing.T) {
	var ref homographies
	read(t, "homography.json", &ref)
	c := ref.Distortion.Camera
	l := Lens{K1: c.K1, K2: c.K2, P1: c.P1, P2: c.P2, K3: c.K3}
	if len(ref.Distortion.Undo) < 20 || c.FX == 0 {
		t.Fatal("the reference file is not what it was")
	}
	for _, p := range ref.Distortion.Do {
		d := l.Distort(Point{p.Normalised[0], p.Normalised[1]})
		if e := math.Hypot(d.X*c.FX+c.CX-p.Pixel[0], d.Y*c.FY+c.CY-p.Pixel[1]); e > 1e-6 {
			t.Errorf("%v is bent %g px off", p.Normalised, e)
		}
	}
	for _, p := range ref.Distortion.Undo {
		q, ok := l.Undistort(Point{(p.Pixel[0] - c.CX) / c.FX, (p.Pixel[1] - c.CY) / c.FY})
		if e := q.Sub(Point{p.Normalised[0], p.Normalised[1]}).Norm() * c.FX; !ok || e > 1e-4 {
			t.Errorf("%v comes back %g px off, %v", p.Pixel, e, ok)
		}
	}
}

type chessboards struct {
	Views []struct {
		Image   string
		Corners [][2]float64
	}
}

// TestLensModelOnChessboards fits plane and lens to the 13 published views; the file's lens_lesson says that a
// plain homography leaves 0.77 to 1.9 px.
func TestLensModelOnChessboards(t *testing.T) {
	var ref chessboards
	read(t, "chessboard_corners.json", &ref)
	if len(ref.Views) != 13 {
		t.Fatalf("%d views", len(ref.Views))
	}
	for _, v := range ref.Views {
		grid := Grid{Field: 1, Cols: 9, Rows: 6, off: [2]int{1, 1}}
		g := &Geometry{Panel: [2]int{10, 7}, Photo: [2]int{640, 480}}
		var seen []crossing
		for i, p := range points(v.Corners) {
			seen = append(seen, crossing{i % 9, i / 9, p})
		}
		var fit Fit
		g.fitGrid(grid, Homography{}, [][]crossing{seen}, &fit)
		if fit.Crossings < 52 || fit.Residual > 0.35 || fit.PlainRMS < 2*fit.Residual {
			t.Errorf("%s: %.3f px rms of %d corners, %.3f without a lens", v.Image, fit.Residual, fit.Crossings, fit.PlainRMS)
		}
		t.Logf("%s: %.3f px, %.3f without a lens", v.Image, fit.Residual, fit.PlainRMS)
	}
}

// TestCornersOnChessboards refines corners from up to 2.8 px beside the reference's.
func TestCornersOnChessboards(t *testing.T) {
	var ref chessboards
	read(t, "chessboard_corners.json", &ref)
	n := 0
	for _, v := range ref.Views {
		f, err := os.Open("testdata/" + strings.TrimSuffix(v.Image, ".jpg") + ".png")
		if err != nil {
			continue // three of the thirteen pictures are here; their number is checked below
		}
		m, _, err := image.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		n++
		p := NewPhoto(m).grey()
		var off []float64
		for i, c := range points(v.Corners) {
			start := Point{c.X + []float64{2, -2, 1, -1}[i%4], c.Y + []float64{1, 2, -2, -1}[i%4]}
			q, ok := p.refine(start, 5)
			if !ok {
				t.Errorf("%s corner %d was not found", v.Image, i)
				continue
			}
			off = append(off, q.Sub(c).Norm())
		}
		slices.Sort(off)
		t.Logf("%s: median %.6f, worst %.6f px", v.Image, off[len(off)/2], off[len(off)-1])
		if off[len(off)/2] > 0.2 {
			t.Errorf("%s: corners are %.3f px off in the median", v.Image, off[len(off)/2])
		}
	}
	if n != 3 {
		t.Errorf("%d pictures", n)
	}
}
