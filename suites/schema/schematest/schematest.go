// Package schematest holds documents against the published schemas by a library that we did not write. It is for tests.
package schematest

import (
	"bytes"
	"fmt"

	"github.com/goccy/go-yaml"
	"github.com/santhosh-tekuri/jsonschema/v6"

	"github.com/fascia-bench/fascia/suites/schema"
)

// A Schema is one that is published, by its name in package schema.
type Schema struct{ s *jsonschema.Schema }

// Compile reads the schema of a name; it fails if that is no schema.
func Compile(name string) (Schema, error) {
	text, err := schema.Get(name)
	if err != nil {
		return Schema{}, err
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return Schema{}, fmt.Errorf("schema %s: %w", name, err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource(name, doc); err != nil {
		return Schema{}, fmt.Errorf("schema %s: %w", name, err)
	}
	s, err := c.Compile(name)
	return Schema{s}, err
}

// Check is an error that says where a JSON text does not fit.
func (s Schema) Check(text []byte) error {
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	if err != nil {
		return err
	}
	return s.s.Validate(v)
}

// CheckYAML is Check of a YAML text.
func (s Schema) CheckYAML(src []byte) error {
	text, err := yaml.YAMLToJSON(src)
	if err != nil {
		return err
	}
	return s.Check(text)
}
