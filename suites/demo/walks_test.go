package demo

import (
	"encoding/json"
	"io/fs"
	"maps"
	"path"
	"slices"
	"testing"

	"github.com/goccy/go-yaml"

	"github.com/fascia-bench/fascia/suites/schema"
)

// Every step that the schema knows is in one of the demo's files.
func TestEveryStepIsWalked(t *testing.T) {
	used := map[string]bool{}
	var note func(steps any)
	note = func(steps any) {
		list, _ := steps.([]any)
		for _, s := range list {
			switch s := s.(type) {
			case string:
				used[s] = true
			case map[string]any:
				for name, v := range s {
					used[name] = true
					if m, ok := v.(map[string]any); ok {
						note(m["steps"])
					}
				}
			}
		}
	}
	err := fs.WalkDir(Files, ".", func(name string, _ fs.DirEntry, err error) error {
		if err != nil || path.Ext(name) != ".yaml" {
			return err
		}
		data, err := Files.ReadFile(name)
		if err != nil {
			return err
		}
		var file map[string]any
		if err := yaml.Unmarshal(data, &file); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		note(file["steps"])
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	text, err := schema.Get("walk")
	if err != nil {
		t.Fatal(err)
	}
	var walk struct {
		Defs struct {
			Step struct {
				AnyOf []struct {
					Enum       []string
					Properties map[string]any
				}
			}
		} `json:"$defs"`
	}
	if err := json.Unmarshal(text, &walk); err != nil {
		t.Fatal(err)
	}
	steps := 0
	for _, form := range walk.Defs.Step.AnyOf {
		for _, name := range slices.AppendSeq(form.Enum, maps.Keys(form.Properties)) {
			steps++
			if !used[name] {
				t.Errorf("no walk of the demo has the step %s", name)
			}
		}
	}
	if steps < 20 {
		t.Errorf("the schema has %d steps: it was not understood", steps)
	}
}
