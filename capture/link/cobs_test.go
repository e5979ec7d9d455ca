package link

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"hash/crc32"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
)

// checkValues are those of testdata/link/crc_cobs.json: the catalogue of parametrised CRC
// algorithms, and the tables and figures of Cheshire and Baker 1999.
type checkValues struct {
	CRC struct {
		Vectors []struct {
			Hex string
			CRC string `json:"crc32_iso_hdlc"`
		}
	}
	COBS struct {
		Examples, Paper []cobsCase
		EdgeCases       []cobsCase `json:"edge_cases"`
		Accepted        []struct {
			Decoded string
			Short   string `json:"encoded_short"`
			Long    string `json:"encoded_long"`
		} `json:"accepted_alternatives"`
		Reject []cobsCase `json:"must_reject"`
	}
}

type cobsCase struct{ Name, Decoded, Encoded, Why string }

func loadCheckValues(t testing.TB) checkValues {
	t.Helper()
	b, err := os.ReadFile("../../testdata/link/crc_cobs.json")
	if err != nil {
		t.Fatal(err)
	}
	var v checkValues
	if err := json.Unmarshal(b, &v); err != nil {
		t.Fatal(err)
	}
	if len(v.CRC.Vectors) != 10 || len(v.COBS.Examples) != 11 || len(v.COBS.Paper) != 2 ||
		len(v.COBS.EdgeCases) != 9 || len(v.COBS.Accepted) == 0 || len(v.COBS.Reject) != 5 {
		t.Fatal("crc_cobs.json does not hold what it held")
	}
	return v
}

func unhex(t testing.TB, s string) []byte {
	t.Helper()
	b, err := hex.DecodeString(s)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestCRCOfTheCatalogue(t *testing.T) {
	for _, v := range loadCheckValues(t).CRC.Vectors {
		want, err := strconv.ParseUint(v.CRC, 0, 32)
		if err != nil {
			t.Fatal(err)
		}
		body := unhex(t, v.Hex)
		if got := crc32.ChecksumIEEE(body); got != uint32(want) {
			t.Errorf("CRC of %s = %#x, want %s", v.Hex, got, v.CRC)
		}
		if len(body) < 2 {
			continue // no body is that short
		}
		raw := append(bytes.Clone(body), byte(want), byte(want>>8), byte(want>>16), byte(want>>24))
		wire := append(appendCOBS([]byte{0}, raw), 0)
		if got := EncodeFrame(body); !bytes.Equal(got, wire) {
			t.Errorf("frame of %s = % x, want % x", v.Hex, got, wire)
		}
	}
}

func TestCOBSOfThePaper(t *testing.T) {
	v := loadCheckValues(t).COBS
	for _, c := range append(append(v.Examples, v.Paper[0]), v.EdgeCases...) {
		if got := appendCOBS(nil, unhex(t, c.Decoded)); hex.EncodeToString(got) != c.Encoded && !alternative(got, c.Encoded) {
			t.Errorf("%s: encoded %x, want %s", c.Name, got, c.Encoded)
		}
		if got, err := decodeCOBS(unhex(t, c.Encoded)); err != nil || hex.EncodeToString(got) != c.Decoded {
			t.Errorf("%s: decoded %x, %v, want %s", c.Name, got, err, c.Decoded)
		}
	}
	// Figure 2 is given as a rule: 679 bytes become ff, 254 bytes, ff, 254 bytes, ac, 171 bytes.
	ones := bytes.Repeat([]byte{1}, 679)
	want := slices.Concat([]byte{0xff}, ones[:254], []byte{0xff}, ones[:254], []byte{0xac}, ones[:171])
	if got := appendCOBS(nil, ones); !bytes.Equal(got, want) {
		t.Errorf("figure 2: %x", got)
	}
	for _, c := range v.Accepted {
		for _, e := range []string{c.Short, c.Long} {
			if got, err := decodeCOBS(unhex(t, e)); err != nil || hex.EncodeToString(got) != c.Decoded || len(got) == 0 {
				t.Errorf("%s: decoded %x, %v, want %s", e, got, err, c.Decoded)
			}
		}
	}
	for _, c := range v.Reject {
		if got, err := decodeCOBS(unhex(t, c.Encoded)); err == nil {
			t.Errorf("%s decoded to %x: %s", c.Encoded, got, c.Why)
		}
	}
}

// alternative reports whether got is want with the 01 that may follow a full last block.
func alternative(got []byte, want string) bool {
	return len(got) > 255 && hex.EncodeToString(got) == want+"01"
}

func TestCOBSRoundTrip(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 1100 {
		b := make([]byte, n)
		for i := range b {
			if r.IntN(n%7*60+2) != 0 { // from many zeros to hardly any
				b[i] = byte(1 + r.IntN(255))
			}
		}
		e := appendCOBS(nil, b)
		if bytes.IndexByte(e, 0) >= 0 {
			t.Fatalf("%d bytes: a zero in % x", n, e)
		}
		if len(e) > n+1+n/254 {
			t.Errorf("%d bytes became %d: the bound of the paper is one more per 254", n, len(e))
		}
		if d, err := decodeCOBS(e); err != nil || !bytes.Equal(d, b) {
			t.Fatalf("%d bytes do not come back: %v", n, err)
		}
	}
}
