//go:build linux

package main

import (
	"debug/buildinfo"
	"io"
	"time"

	"github.com/CycloneDX/cyclonedx-go"
)

// bom writes what the command is made of, as the Go toolchain recorded it in the command itself: modules and
// versions, in CycloneDX 1.6 (ECMA-424), each with its package URL (purl, type golang).
func (r *release) bom(command string) error {
	info, err := buildinfo.ReadFile(command)
	if err != nil {
		return err
	}
	b := bomOf(info, r.version, r.when)
	return r.write("fascia-"+r.version+".cdx.json", func(w io.Writer) error {
		return cyclonedx.NewBOMEncoder(w, cyclonedx.BOMFileFormatJSON).SetPretty(true).EncodeVersion(b, cyclonedx.SpecVersion1_6)
	})
}

func bomOf(info *buildinfo.BuildInfo, version string, when time.Time) *cyclonedx.BOM {
	b := cyclonedx.NewBOM()
	purl := func(path, version string) string { return "pkg:golang/" + path + "@" + version }
	root := cyclonedx.Component{
		BOMRef: "fascia", Type: cyclonedx.ComponentTypeApplication, Name: "fascia", Version: version, PackageURL: purl(info.Main.Path, version),
		Licenses: &cyclonedx.Licenses{{License: &cyclonedx.License{ID: "Apache-2.0"}}},
	}
	b.Metadata = &cyclonedx.Metadata{Timestamp: when.Format(time.RFC3339), Component: &root}
	components := []cyclonedx.Component{{
		BOMRef: "go", Type: cyclonedx.ComponentTypeLibrary, Name: "std", Version: info.GoVersion, PackageURL: purl("std", info.GoVersion),
		Description: "standard library of Go",
	}}
	refs := []string{"go"}
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		ref := purl(m.Path, m.Version)
		components = append(components, cyclonedx.Component{
			BOMRef: ref, Type: cyclonedx.ComponentTypeLibrary, Name: m.Path, Version: m.Version, PackageURL: ref,
			Properties: &[]cyclonedx.Property{{Name: "go.sum", Value: m.Sum}},
		})
		refs = append(refs, ref)
	}
	b.Components = &components
	b.Dependencies = &[]cyclonedx.Dependency{{Ref: "fascia", Dependencies: &refs}}
	return b
}
