package picture

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

func encoded(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := EncodePNG(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// stripes is a picture of n colours in no particular order, its origin off zero.
func stripes(n int) *image.NRGBA {
	rnd := rand.New(rand.NewPCG(7, uint64(n)))
	img := image.NewNRGBA(image.Rect(10, -4, 10+n, 4))
	for i, v := range rnd.Perm(n) {
		for y := -4; y < 4; y++ {
			img.SetNRGBA(10+i, y, color.NRGBA{uint8(v * 37), uint8(v), uint8(v >> 8), 255})
		}
	}
	return img
}

func TestEncodeDepth(t *testing.T) {
	for _, tt := range []struct {
		colours, depth, kind int
		why                  string
	}{
		{1, 1, 3, "one colour needs one bit, as PNG has none smaller"},
		{2, 1, 3, "two colours fill one bit"},
		{3, 2, 3, "three need two bits"},
		{4, 2, 3, "four fill two bits"},
		{5, 4, 3, "five need four bits"},
		{16, 4, 3, "sixteen fill four bits"},
		{17, 8, 3, "seventeen need a byte"},
		{256, 8, 3, "256 fill a byte"},
		{257, 8, 2, "257 no longer fit a palette: RGB"},
	} {
		img := stripes(tt.colours)
		b := encoded(t, img)
		// PNG specification, 11.2.1: width, height, bit depth, colour type follow the chunk's name.
		if depth, kind := int(b[24]), int(b[25]); depth != tt.depth || kind != tt.kind {
			t.Errorf("%d colours: depth %d, colour type %d, want %d, %d: %s", tt.colours, depth, kind, tt.depth, tt.kind, tt.why)
		}
		if tt.kind == 3 {
			first := bytes.Index(b, []byte("PLTE")) + 4
			for i := first + 3; i < first+3*tt.colours; i += 3 {
				if bytes.Compare(b[i-3:i], b[i:i+3]) >= 0 {
					t.Errorf("%d colours: palette is not sorted at entry %d", tt.colours, (i-first)/3)
				}
			}
		}
		back, err := Decode(bytes.NewReader(b), "back")
		if err != nil {
			t.Fatal(err)
		}
		samePixels(t, back, img)
	}
}

// The same pixels in whatever image type give the same file and the same hash.
func TestTypeDoesNotMatter(t *testing.T) {
	src := stripes(200)
	b := src.Bounds()
	rgba, nrgba64, rgba64 := image.NewRGBA(b), image.NewNRGBA64(b.Add(image.Pt(-50, 9))), image.NewRGBA64(b)
	big := image.NewNRGBA(b.Inset(-3))
	pal := image.NewPaletted(b, nil)
	for x := b.Min.X; x < b.Max.X; x++ {
		pal.Palette = append(pal.Palette, src.At(x, 0))
	}
	for _, dst := range []draw.Image{rgba, nrgba64, rgba64, big, pal} {
		r := b
		if dst == draw.Image(nrgba64) {
			r = dst.Bounds()
		}
		draw.Draw(dst, r, src, b.Min, draw.Src)
	}
	wantFile, wantHash := encoded(t, src), Hash(src)
	for name, img := range map[string]image.Image{
		"RGBA": rgba, "NRGBA64 elsewhere": nrgba64, "RGBA64": rgba64, "Paletted": pal, "window of a larger one": big.SubImage(b),
		"type of its own": struct{ image.Image }{src},
	} {
		samePixels(t, Pix(img), src)
		if !bytes.Equal(encoded(t, img), wantFile) {
			t.Errorf("%s gave another file", name)
		}
		if got := Hash(img); got != wantHash {
			t.Errorf("%s gave hash %s, want %s", name, got, wantHash)
		}
	}
	grey := image.NewGray(image.Rect(2, 2, 18, 18))
	for i := range grey.Pix {
		grey.Pix[i] = byte(i)
	}
	inner := grey.SubImage(image.Rect(4, 3, 9, 17))
	samePixels(t, Pix(inner), inner)
	if !bytes.Equal(encoded(t, inner), encoded(t, struct{ image.Image }{inner})) {
		t.Error("Gray gave another file than the general path")
	}
}

func TestPixReducesToThePanel(t *testing.T) {
	for _, tt := range []struct {
		name, why string
		in        color.Color
		want      color.NRGBA
	}{
		{"clear", "nothing over a dark panel is black, whatever colour hides there", color.NRGBA{255, 255, 255, 0}, color.NRGBA{0, 0, 0, 255}},
		{"half", "200 at alpha 128 over black is 200*128/255 = 100.4", color.NRGBA{200, 0, 0, 128}, color.NRGBA{100, 0, 0, 255}},
		{"16 bit", "the low byte is dropped, not rounded up", color.NRGBA64{0x12ff, 0xff00, 0x00ff, 0xffff}, color.NRGBA{0x12, 0xff, 0, 255}},
	} {
		wide := image.NewNRGBA64(image.Rect(-1, -1, 0, 0))
		wide.Set(-1, -1, tt.in)
		narrow := image.NewNRGBA(image.Rect(-1, -1, 0, 0))
		narrow.Set(-1, -1, tt.in)
		few := image.NewPaletted(image.Rect(-1, -1, 0, 0), color.Palette{color.Black, tt.in})
		few.SetColorIndex(-1, -1, 1)
		for _, img := range []image.Image{wide, narrow, few} {
			if got := Pix(img).NRGBAAt(0, 0); got != tt.want {
				t.Errorf("%s in %T: %v, want %v: %s", tt.name, img, got, tt.want, tt.why)
			}
		}
	}
}

// The sums come from other programs: GNU coreutils' sha256sum, and FFmpeg 5.1.9 for the pixels of the
// PngSuite pictures:
//
//	printf 'P6\n2 1\n255\n\0\0\0\11\0\0' | sha256sum
//	ffmpeg -i basn3p08.png -f image2pipe -c:v ppm - | sha256sum
func TestHashByOtherTools(t *testing.T) {
	tiny := image.NewNRGBA(image.Rect(0, 0, 2, 1))
	tiny.Set(0, 0, color.Black)
	tiny.Set(1, 0, color.NRGBA{9, 0, 0, 255})
	read := func(name string) image.Image {
		img, err := Read(filepath.Join("testdata", "pngsuite", name))
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	for _, tt := range []struct {
		name string
		img  image.Image
		want string
	}{
		{"2x1", tiny, "dbcf1121891baeebcefc715e1f1563bea8447c639b63a0463a099b8bbf8aa403"},
		{"basn3p08.png", read("basn3p08.png"), "2c1301ffaaab2056e567cbb402a8c27cd18aeb7567caa2d782055aa408393a56"},
		{"basn0g08.png", read("basn0g08.png"), "91fc67d7c96da7724991fbbb0b8b925083adcf648f535e957df8254143a6d024"},
	} {
		if got := Hash(tt.img); got != tt.want {
			t.Errorf("%s: hash %s, want %s", tt.name, got, tt.want)
		}
	}
	ppm, err := os.ReadFile("testdata/pnm/basn2c08.ppm") // FFmpeg writes just the header that Hash is defined by
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(ppm)
	if got := Hash(read("basn2c08.png")); got != hex.EncodeToString(sum[:]) {
		t.Errorf("hash %s is not that of the picture as PPM, %x", got, sum)
	}
	turned := image.NewNRGBA(image.Rect(0, 0, 1, 2))
	copy(turned.Pix, tiny.Pix)
	if Hash(turned) == Hash(tiny) {
		t.Error("1x2 and 2x1 of the same bytes have one hash: the size must count")
	}
}

func TestWritePNGReplacesWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "home.png")
	for n := range 2 {
		img := stripes(5 + n)
		if err := WritePNG(path, img); err != nil {
			t.Fatal(err)
		}
		back, err := Read(path)
		if err != nil {
			t.Fatal(err)
		}
		samePixels(t, back, img)
	}
	if err := WritePNG(filepath.Join(dir, "none", "home.png"), stripes(2)); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("into a missing folder: %v, want fs.ErrNotExist", err)
	}
	if err := os.Mkdir(filepath.Join(dir, "folder.png"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := WritePNG(filepath.Join(dir, "folder.png"), stripes(2)); err == nil {
		t.Error("a folder of that name was replaced")
	}
	if err := WritePNG(path, image.NewNRGBA(image.Rectangle{})); err == nil {
		t.Error("a picture without pixels was written")
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 2 {
		t.Errorf("%d entries, %v; want home.png, folder.png and no temporary file", len(entries), err)
	}
}

// BenchmarkEncodePNG shows what sorting out a palette buys on a panel-like picture: the file's size as
// a share of what image/png makes of the same pixels as RGB, measured on the same picture.
func BenchmarkEncodePNG(b *testing.B) {
	img := image.NewNRGBA(image.Rect(0, 0, 320, 240))
	for y := range 240 {
		for x := range 320 {
			c := color.NRGBA{24, 40, 32, 255}
			if x/8%3 == 0 && y/6%2 == 0 { // blocks like lines of text, with softened edges
				c = color.NRGBA{200, uint8(200 - 30*(x%8)), 180, 255}
			}
			img.SetNRGBA(x, y, c)
		}
	}
	var ours bytes.Buffer
	for b.Loop() {
		ours.Reset()
		if err := EncodePNG(&ours, img); err != nil {
			b.Fatal(err)
		}
	}
	var plain bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&plain, img); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(float64(ours.Len())/float64(plain.Len()), "bytes/rgb-bytes")
}
