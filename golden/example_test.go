package golden_test

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"os"
	"time"

	"github.com/fascia-bench/fascia/golden"
)

func Example() {
	dir, err := os.MkdirTemp("", "golden")
	if err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	store, err := golden.Open(dir)
	if err != nil {
		panic(err)
	}

	_, _, err = store.Get("fernhouse-320", "bed lamp", "lamp 64")
	fmt.Println("unapproved:", errors.Is(err, golden.ErrNoGolden))

	capture := image.NewNRGBA(image.Rect(0, 0, 320, 240))
	capture.Set(12, 40, color.White)
	_, err = store.Approve([]golden.Approval{{
		Target: "fernhouse-320", Walk: "bed lamp", Look: "lamp 64", Picture: capture,
		Who: "Ada Fern", Why: "first picture of the slider", When: time.Date(2031, 5, 4, 9, 30, 0, 0, time.UTC),
		Build: "v1.4", Library: "draw-1",
	}})
	fmt.Println("approved:", err == nil)

	img, entry, err := store.Get("fernhouse-320", "bed lamp", "lamp 64")
	fmt.Println(img.Bounds().Size(), entry.Who, entry.Build, err)
	// Output:
	// unapproved: true
	// approved: true
	// (320,240) Ada Fern v1.4 <nil>
}
