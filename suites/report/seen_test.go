package report

import (
	"testing"

	"github.com/fascia-bench/fascia/suites/record"
)

func TestWhatTheCameraSays(t *testing.T) {
	for _, tt := range []struct {
		photo *record.Photo
		why   string
		want  string
	}{
		{nil, "", ""},
		{&record.Photo{Same: true}, "", "By camera: as approved, as far as a photo can tell."},
		{&record.Photo{}, "", "By camera: it differs as well."},
		{&record.Photo{Why: "no verdict on the photo: the camera moved"}, "", "By camera: no verdict on the photo: the camera moved."},
		{&record.Photo{Glass: true}, "what differs is on the glass", "By camera alone: what differs is on the glass."},
	} {
		if got := seenBy(record.Look{Photo: tt.photo, Why: tt.why}); got != tt.want {
			t.Errorf("%+v: %q, want %q", tt.photo, got, tt.want)
		}
	}
}
