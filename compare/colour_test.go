package compare

import (
	"encoding/csv"
	"encoding/json"
	"hash/crc32"
	"image/color"
	"math"
	"os"
	"strconv"
	"testing"
)

const colourDir = "../testdata/colour/"

// The 34 pairs of Table 1 of Sharma, Wu, Dalal (2005), to the four decimals printed there
// and to the value in double precision that the file holds.
func TestCIEDE2000AgainstSharma(t *testing.T) {
	f, err := os.Open(colourDir + "ciede2000.csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if rows = rows[1:]; len(rows) != 34 {
		t.Fatalf("%d pairs, want 34", len(rows))
	}
	for _, row := range rows {
		v := make([]float64, len(row))
		for i, s := range row {
			if v[i], err = strconv.ParseFloat(s, 64); err != nil {
				t.Fatal(err)
			}
		}
		p, q := Lab{v[1], v[2], v[3]}, Lab{v[4], v[5], v[6]}
		there, back := ColourDifference(p, q), ColourDifference(q, p)
		if math.Abs(there-v[7]) > 5.0001e-5 || math.Abs(there-v[15]) > 1e-9 {
			t.Errorf("pair %s: %v, want %v printed, %v in double precision", row[0], there, v[7], v[15])
		}
		if math.Abs(there-back) > 1e-12 {
			t.Errorf("pair %s: %v one way, %v the other", row[0], there, back)
		}
	}
}

// IEC 61966-2-1 for the matrix, ISO/CIE 11664-4 for Lab; the bit layout rrrrrggggggbbbbb.
// ISO/CIE 11664-4: below (6/29)^3 of white, L* is (29/3)^3 times the share of white's luminance; IEC 61966-2-1: below 0.04045
// the light is the value over 12.92. Right above, L* goes on without a step.
func TestNearlyBlackGreysAreLinear(t *testing.T) {
	for v := range uint8(11) {
		want := math.Pow(29.0/3, 3) * float64(v) / 255 / 12.92
		if lab := LabOf(color.Gray{v}); math.Abs(lab.L-want) > 1e-9 || math.Abs(lab.A) > 1e-9 || math.Abs(lab.B) > 1e-9 {
			t.Errorf("grey %d: %+v, want L %v", v, lab, want)
		}
	}
	for v := range uint8(60) {
		if step := LabOf(color.Gray{v + 1}).L - LabOf(color.Gray{v}).L; step < 0.25 || step > 0.52 {
			t.Errorf("from grey %d to the next L grows by %v", v, step)
		}
	}
}

func TestColourConversions(t *testing.T) {
	var ref struct {
		Lab struct {
			Values []struct {
				Name string
				RGB  [3]uint8
				Lab  [3]float64 `json:"lab_white_from_matrix"`
			}
		}
		RGB565 struct {
			Expand5, Expand6 []int
			All              struct{ CRC32 string } `json:"all_65536_words"`
		}
		Luma struct {
			Values []struct {
				RGB     [3]uint8
				Luma709 float64 `json:"luma_709"`
			}
		}
	}
	b, err := os.ReadFile(colourDir + "srgb_rgb565.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &ref); err != nil {
		t.Fatal(err)
	}
	if len(ref.Lab.Values) == 0 || len(ref.Luma.Values) == 0 {
		t.Fatal("no values in the file")
	}
	for _, v := range ref.Lab.Values {
		got := LabOf(color.RGBA{v.RGB[0], v.RGB[1], v.RGB[2], 255})
		for i, g := range []float64{got.L, got.A, got.B} {
			if math.Abs(g-v.Lab[i]) > 1e-9 {
				t.Errorf("%s: %v, want %v", v.Name, got, v.Lab)
			}
		}
	}
	for _, v := range ref.Luma.Values {
		got := luma(uint32(v.RGB[0])<<16 | uint32(v.RGB[1])<<8 | uint32(v.RGB[2]))
		// Half a level of rounding, and the weights in 1/65536.
		if math.Abs(float64(got)-v.Luma709) > 0.5+0.004 {
			t.Errorf("luma of %v: %d, want %v", v.RGB, got, v.Luma709)
		}
	}
	for i, want := range ref.RGB565.Expand5 {
		if got := int(expand565(uint16(i)) & 0xff); got != want {
			t.Errorf("5 bits %d: %d, want %d", i, got, want)
		}
	}
	for i, want := range ref.RGB565.Expand6 {
		if got := int(expand565(uint16(i<<5)) >> 8 & 0xff); got != want {
			t.Errorf("6 bits %d: %d, want %d", i, got, want)
		}
	}
	sum := crc32.NewIEEE()
	for w := range 1 << 16 {
		c := expand565(uint16(w))
		sum.Write([]byte{byte(c >> 16), byte(c >> 8), byte(c)})
		if pack565(c) != uint16(w) {
			t.Fatalf("code %#04x packs to %#04x", w, pack565(c))
		}
	}
	if want, err := strconv.ParseUint(ref.RGB565.All.CRC32, 0, 32); err != nil || uint64(sum.Sum32()) != want {
		t.Errorf("CRC-32 of all codes %#08x, want %s", sum.Sum32(), ref.RGB565.All.CRC32)
	}
}
