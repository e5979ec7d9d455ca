package faults

import (
	"bytes"
	"testing"
)

// Every edit still finds its place, compiles, and makes another device than the sound one.
func TestFaultsCanBePlanted(t *testing.T) {
	b, err := New("..", t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	sound, err := b.Sound()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range All {
		wasm, err := b.Plant(f.Name)
		if err != nil {
			t.Errorf("%s: %v", f.Name, err)
		} else if bytes.Equal(wasm, sound) {
			t.Errorf("%s changes nothing", f.Name)
		}
	}
	again, err := b.Sound()
	if err != nil || !bytes.Equal(again, sound) {
		t.Errorf("after planting, the sound build is another: %v", err)
	}
}
