// Package schema holds the JSON Schemas of the files that fascia reads and writes, so that editors can
// complete and check them: draft 2020-12, each with an example of a header line for editors in its
// description. The parsers are in packages bench, suites, record, atlas and critic; tests hold the two together.
package schema

import (
	"embed"
	"fmt"
	"slices"
	"strings"
)

//go:embed walk.json bench.json run.json map.json lint.json
var files embed.FS

// Names are the schemas that there are.
func Names() []string { return []string{"walk", "bench", "run", "map", "lint"} }

// Get returns a schema's text.
func Get(name string) ([]byte, error) {
	if !slices.Contains(Names(), name) {
		return nil, fmt.Errorf("there is no schema %q: there are %s", name, strings.Join(Names(), ", "))
	}
	return files.ReadFile(name + ".json")
}
