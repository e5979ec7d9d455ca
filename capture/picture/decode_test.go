package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// gradient is a picture of more than 256 colours whose bounds do not start at the origin.
func gradient(w, h int) *image.NRGBA {
	img := image.NewNRGBA(image.Rect(-3, 5, w-3, h+5))
	for y := range h {
		for x := range w {
			img.SetNRGBA(x-3, y+5, color.NRGBA{uint8(x * 7), uint8(y * 11), uint8(x ^ y), 255})
		}
	}
	return img
}

func pngOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func jpegOf(t testing.TB, img image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// claim returns a PNG that says it is w x h and goes on to hold nothing: signature, IHDR, no more.
func claim(w, h uint32) []byte {
	ihdr := []byte("IHDR")
	ihdr = binary.BigEndian.AppendUint32(ihdr, w)
	ihdr = binary.BigEndian.AppendUint32(ihdr, h)
	ihdr = append(ihdr, 8, 6, 0, 0, 0)
	out := append([]byte("\x89PNG\r\n\x1a\n"), 0, 0, 0, 13)
	out = append(out, ihdr...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(ihdr))
}

// flip returns in with the byte at i (from the end if negative) inverted.
func flip(in []byte, i int) []byte {
	out := bytes.Clone(in)
	if i < 0 {
		i += len(out)
	}
	out[i] ^= 0xff
	return out
}

type badCase struct {
	name, why string
	in        []byte
	want      error
	says      string // a part of the message that its reader needs
}

func badCases(t testing.TB) []badCase {
	p, j := pngOf(t, gradient(40, 30)), jpegOf(t, gradient(40, 30))
	jpegClaim := bytes.Clone(j)
	sof := bytes.Index(jpegClaim, []byte{0xff, 0xc0})
	copy(jpegClaim[sof+5:], []byte{0xea, 0x60, 0xea, 0x60}) // 60,000 x 60,000
	return []badCase{
		{"empty", "an empty file was cut at its first byte", nil, ErrTruncated, "empty"},
		{"png signature only", "eight bytes are no picture", p[:8], ErrTruncated, "ends before"},
		{"png half signature", "a cut within the signature is a cut, not a foreign format", p[:5], ErrTruncated, "signature"},
		{"png half", "half the pixels are not a picture", p[:len(p)/2], ErrTruncated, "ends before"},
		{"png without IEND", "all pixels are there, but the file was cut: nothing proves that it ended", p[:len(p)-12], ErrTruncated, "ends before"},
		{"png last byte gone", "as above", p[:len(p)-1], ErrTruncated, "ends before"},
		{"png damaged at the end of IDAT", "the checksum of the last chunk of pixels guards them", flip(p, -12-4-3), ErrDamaged, "checksum"},
		{"png damaged in the middle", "the first bad byte may show as bad deflate data or as checksum", flip(p, len(p)/2), ErrDamaged, ""},
		{"png damaged header", "the header has its own checksum", flip(p, 19), ErrDamaged, "checksum"},
		{"png 60000x60000", "refused by its header, before 14 GB are asked for", claim(60_000, 60_000), ErrTooLarge, "60000x60000"},
		{"png long and thin", "a side counts alone, too", claim(1_000_000, 1), ErrTooLarge, "1000000x1"},
		{"png too many pixels", "each side is fine, their product is not", claim(15_000, 15_000), ErrTooLarge, "in all"},
		{"png 2^31-1 squared", "must not overflow on its way to the check", claim(1<<31-1, 1<<31-1), ErrTooLarge, ""},
		{"png 0x0", "no pixel at all", claim(0, 0), ErrDamaged, ""},
		{"jpeg 60000x60000", "the same limit for photos", jpegClaim, ErrTooLarge, "60000x60000"},
		{"jpeg half", "half a photo would pass for a dark panel", j[:len(j)/2], ErrTruncated, "ends before"},
		{"jpeg without end", "the end marker is missing", j[:len(j)-2], ErrTruncated, "ends before"},
		{"jpeg start only", "three bytes are no photo", j[:3], ErrTruncated, ""},
		{"gif", "say what it is", []byte("GIF89a......"), ErrFormat, "a GIF"},
		{"webp", "say what it is", []byte("RIFF\x10\x00\x00\x00WEBPVP8 "), ErrFormat, "a WebP"},
		{"heic", "phones make these", []byte("\x00\x00\x00\x18ftypheic\x00\x00"), ErrFormat, "HEIC"},
		{"lfs pointer", "a clone without LFS holds pointers", []byte("version https://git-lfs.github.com/spec/v1\noid"), ErrFormat, "git lfs pull"},
		{"png through text mode", "git without a binary attribute does this", []byte("\x89PNG\n\x1a\n\x00\x00\x00\x0dIHDR"), ErrFormat, "line ends"},
		{"html", "an error page saved under the picture's name", []byte("<!DOCTYPE html><html>"), ErrFormat, "markup"},
		{"json", "a record given for its picture", []byte(`{"same": false}`), ErrFormat, "JSON"},
		{"text", "show how it starts", []byte("temperature 21.4"), ErrFormat, `"temperature 21.4"`},
		{"bytes", "show them", []byte{0, 1, 2, 3, 0xfe}, ErrFormat, "00010203fe"},
		{"magic only", "P6 and nothing", []byte("P6"), ErrTruncated, "P6"},
		{"P7", "another family", []byte("P7\nWIDTH 2\n"), ErrFormat, "PAM"},
		{"ppm no height", "a header cut short", []byte("P6 4"), ErrTruncated, "height"},
		{"ppm word for width", "a header that is none", []byte("P6 wide 4 255 "), ErrDamaged, "width"},
		{"ppm negative", "no sign is allowed", []byte("P3 -2 1 255 0 0 0 0 0 0"), ErrDamaged, "width"},
		{"ppm zero wide", "no pixel at all", []byte("P3 0 1 255 "), ErrDamaged, "0x1"},
		{"ppm 60000x60000", "refused by its header", []byte("P6 60000 60000 255\n"), ErrTooLarge, "60000x60000"},
		{"ppm too many pixels", "each side is fine, their product is not", []byte("P6 15000 15000 255\n"), ErrTooLarge, "in all"},
		{"ppm overflow", "a number that no int holds", []byte("P6 99999999999999999999999 1 255\n"), ErrTooLarge, "width"},
		{"ppm maxval 0", "ppm(5): more than zero", []byte("P3 1 1 0 0 0 0"), ErrDamaged, "1 to 65535"},
		{"ppm maxval 65536", "ppm(5): less than 65536", []byte("P3 1 1 65536 0 0 0"), ErrDamaged, "1 to 65535"},
		{"ppm plain short", "the last sample is missing", []byte("P3 2 1 255 0 0 0 9 0"), ErrTruncated, "row 0, column 1"},
		{"ppm plain above maxval", "a sample that cannot be", []byte("P3 2 1 15 0 0 0 16 0 0"), ErrDamaged, "row 0, column 1 holds 16"},
		{"ppm plain junk", "a letter among samples", []byte("P3 2 1 255 0 0 0 9 0 x"), ErrDamaged, `'x'`},
		{"ppm plain too long", "a seventh sample: the width is wrong", []byte("P3 2 1 255 0 0 0 9 0 0 7"), ErrDamaged, "more behind"},
		{"ppm binary short", "the last byte is missing", []byte("P6 2 1 255\n\x00\x00\x00\x09\x00"), ErrTruncated, "row 0 of 1, after 5 of its 6 bytes"},
		{"ppm binary too long", "a seventh byte: the width is wrong", []byte("P6 2 1 255\n\x00\x00\x00\x09\x00\x00\x07"), ErrDamaged, "more behind"},
		{"pgm binary above maxval", "a sample that cannot be", []byte("P5 1 1 7\n\x08"), ErrDamaged, "holds 8"},
		{"pgm 16 bit short", "half a sample", []byte("P5 1 1 256\n\x00"), ErrTruncated, "1 of its 2 bytes"},
		{"pbm bit 2", "a bit is 0 or 1", []byte("P1 2 1 02"), ErrDamaged, "0 or 1"},
		{"pbm binary short", "two rows are promised", []byte("P4 9 2\n\xff\x80\xff"), ErrTruncated, "row 1 of 2"},
	}
}

func TestRefused(t *testing.T) {
	for _, tt := range badCases(t) {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Decode(bytes.NewReader(tt.in), "shelf/home.png")
			if !errors.Is(err, tt.want) {
				t.Fatalf("error %v, want %v: %s", err, tt.want, tt.why)
			}
			if msg := err.Error(); !strings.Contains(msg, tt.says) || !strings.Contains(msg, `"shelf/home.png"`) || strings.Contains(msg, "\n") {
				t.Errorf("error %q should be one line that names the file and %q", msg, tt.says)
			}
		})
	}
}

// A PNG cut anywhere is never a picture.
func TestEveryCutIsAnError(t *testing.T) {
	for name, whole := range map[string][]byte{
		"png": pngOf(t, gradient(9, 9)), "jpeg": jpegOf(t, gradient(9, 9)),
		"ppm": []byte("P6 # a comment\n2 2\n255\n\x00\x00\x00\x09\x00\x00abcdef"), "plain": []byte("P3 1 2 31\n0 0 0\n1 1 1"),
	} {
		if _, err := Decode(bytes.NewReader(whole), name); err != nil {
			t.Errorf("whole %s: %v", name, err)
		}
		for n := range whole {
			if _, err := Decode(bytes.NewReader(whole[:n]), name); err == nil {
				t.Errorf("%s cut to %d of %d bytes was read as a picture", name, n, len(whole))
			} else if !errors.Is(err, ErrTruncated) {
				t.Errorf("%s cut to %d of %d bytes: %v, want ErrTruncated", name, n, len(whole), err)
			}
		}
	}
}

func TestTooManyBytes(t *testing.T) {
	in := pngOf(t, gradient(40, 30))
	if _, err := decode(bytes.NewReader(in), limits{100, 10_000, int64(len(in)) - 1}); !errors.Is(err, ErrTooLarge) {
		t.Errorf("a file one byte over the limit: %v, want ErrTooLarge", err)
	}
	if _, err := decode(bytes.NewReader(in), limits{100, 10_000, int64(len(in))}); err != nil {
		t.Errorf("a file of exactly the limit: %v", err)
	}
}

func TestReadNames(t *testing.T) {
	dir := t.TempDir()
	missing := filepath.Join(dir, "gone.png")
	if _, err := Read(missing); !errors.Is(err, fs.ErrNotExist) || strings.Count(err.Error(), "gone.png") != 1 {
		t.Errorf("a missing file: %v, want fs.ErrNotExist that names it once", err)
	}
	if _, err := Read(dir); !errors.Is(err, ErrFormat) || !strings.Contains(err.Error(), "folder") {
		t.Errorf("a folder: %v, want ErrFormat that says folder", err)
	}
	path := filepath.Join(dir, "home.txt") // the name says nothing about the format
	if err := os.WriteFile(path, pngOf(t, gradient(4, 4)), 0o666); err != nil {
		t.Fatal(err)
	}
	img, err := Read(path)
	if err != nil {
		t.Fatal(err)
	}
	samePixels(t, img, gradient(4, 4))
}

// samePixels compares at 16 bits a channel, each picture from its own top left.
func samePixels(t *testing.T, got, want image.Image) {
	t.Helper()
	gb, wb := got.Bounds(), want.Bounds()
	if gb.Size() != wb.Size() {
		t.Fatalf("size %v, want %v", gb.Size(), wb.Size())
	}
	for y := range gb.Dy() {
		for x := range gb.Dx() {
			g := color.RGBA64Model.Convert(got.At(gb.Min.X+x, gb.Min.Y+y))
			w := color.RGBA64Model.Convert(want.At(wb.Min.X+x, wb.Min.Y+y))
			if g != w {
				t.Fatalf("pixel %d,%d is %v, want %v", x, y, g, w)
			}
		}
	}
}

// The same pictures, as PNG and as another program's PPM, PGM and PBM (testdata/README.md).
func TestPNMAgainstPNG(t *testing.T) {
	files, err := filepath.Glob("testdata/pnm/*")
	if err != nil || len(files) != 6 {
		t.Fatalf("%d files, %v; want 6", len(files), err)
	}
	for _, f := range files {
		t.Run(filepath.Base(f), func(t *testing.T) {
			got, err := Read(f)
			if err != nil {
				t.Fatal(err)
			}
			base := strings.TrimSuffix(filepath.Base(f), filepath.Ext(f))
			want, err := Read(filepath.Join("testdata", "pngsuite", base+".png"))
			if err != nil {
				t.Fatal(err)
			}
			samePixels(t, got, want)
		})
	}
}

// Two JPEG decoders may round the cosine transform and the colour conversion differently by a level
// or two (ITU-T T.83 allows a decoder that much); more would be another picture.
func TestJPEGAgainstAnotherDecoder(t *testing.T) {
	got, err := Read("testdata/basn2c08.jpg")
	if err != nil {
		t.Fatal(err)
	}
	want, err := Read("testdata/basn2c08.jpg.ppm")
	if err != nil {
		t.Fatal(err)
	}
	g, w := Pix(got), Pix(want)
	if g.Rect != w.Rect {
		t.Fatalf("size %v, want %v", g.Rect, w.Rect)
	}
	for i := range g.Pix {
		if d := math.Abs(float64(g.Pix[i]) - float64(w.Pix[i])); d > 3 {
			t.Fatalf("pixel %d,%d channel %d is %d, want %d within 3", i/4%32, i/4/32, i%4, g.Pix[i], w.Pix[i])
		}
	}
}
