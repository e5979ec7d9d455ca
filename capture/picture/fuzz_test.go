package picture

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// FuzzDecode: refusing is fine; a panic is not, nor a picture that changes when it is written and
// read again. The limits are small so that the fuzzer does not spend its time on clearing memory.
func FuzzDecode(f *testing.F) {
	for _, tt := range badCases(f) {
		f.Add(tt.in)
	}
	for _, tt := range pnmCases() {
		f.Add([]byte(tt.in))
	}
	for _, pattern := range []string{"testdata/pngsuite/*.png", "testdata/pnm/*", "testdata/*.jpg"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			f.Fatalf("no seed matches %s (%v)", pattern, err)
		}
		for _, name := range files {
			in, err := os.ReadFile(name)
			if err != nil {
				f.Fatal(err)
			}
			f.Add(in)
		}
	}
	f.Fuzz(func(t *testing.T, in []byte) {
		img, err := decode(bytes.NewReader(in), limits{side: 300, pixels: 20_000, bytes: 1 << 20})
		if err != nil {
			if img != nil {
				t.Error("a picture and an error at once")
			}
			return
		}
		back, err := decode(bytes.NewReader(encoded(t, img)), standard)
		if err != nil {
			t.Fatalf("written and not read again: %v", err)
		}
		if got, want := Hash(back), Hash(img); got != want {
			t.Errorf("hash %s after writing and reading, was %s", got, want)
		}
	})
}
