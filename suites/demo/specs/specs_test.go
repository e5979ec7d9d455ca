// Package specs_test walks the Fernhouse controller from Go: the same walk as walks/bed-lamp.yaml, for
// those who want code. It runs with plain go test, or with ginkgo.
package specs_test

import (
	"image"
	"os"
	"path/filepath"
	"testing"
	"time"

	. "github.com/onsi/ginkgo/v2"
	. "github.com/onsi/gomega"

	"github.com/fascia-bench/fascia/suites"
	"github.com/fascia-bench/fascia/suites/demo"
)

var bench *suites.Bench

func TestFernhouse(t *testing.T) {
	RegisterFailHandler(Fail)
	RunSpecs(t, "Fernhouse from Go")
}

var _ = BeforeSuite(func(ctx SpecContext) {
	dir := GinkgoT().TempDir() // your own suite names its bench.yaml here; the demo unpacks one
	Expect(demo.Unpack(dir)).To(Succeed())
	twin, err := demo.Twin()
	Expect(err).NotTo(HaveOccurred())
	bench, err = suites.OpenBench(ctx, filepath.Join(dir, demo.BenchFile), twin)
	Expect(err).NotTo(HaveOccurred())
})

var _ = AfterSuite(func() {
	if bench == nil {
		return
	}
	Expect(bench.Close()).To(Succeed())
	Expect(filepath.Join(bench.Dir(), "run.json")).To(BeARegularFile())
	if keep := os.Getenv("FASCIA_SPECS_RUN"); keep != "" { // for the test that holds this against the YAML walk
		Expect(os.CopyFS(keep, os.DirFS(bench.Dir()))).To(Succeed())
	}
})

var _ = Describe("the bed lamp", Ordered, ContinueOnFailure, func() {
	BeforeAll(func(ctx SpecContext) {
		Expect(bench.Walk(ctx, "bed lamp", "start.yaml", nil)).To(Succeed())
		Expect(bench.Drag(ctx, image.Pt(160, 2), image.Pt(160, 140), 250*time.Millisecond)).To(Succeed())
		Expect(bench.Settle(ctx)).To(Succeed())
	})

	It("follows the knob", func(ctx SpecContext) {
		Expect(bench.Turn(ctx, 8)).To(Succeed())
		Expect(bench.Log(ctx, "lamp *")).To(suites.BeMet())
		Expect(bench.Look(ctx, "by knob", suites.Note("One detent of the knob is one step of the lamp."))).To(suites.MatchGolden())
	})

	It("goes to full by finger", func(ctx SpecContext) {
		Expect(bench.Drag(ctx, image.Pt(112, 144), image.Pt(310, 144), 400*time.Millisecond)).To(Succeed())
		Expect(bench.Log(ctx, "lamp 100")).To(suites.BeMet())
		Expect(bench.Look(ctx, "full", suites.Note("The handle follows the finger."))).To(suites.MatchGolden())
	})

	It("goes off by finger", func(ctx SpecContext) {
		Expect(bench.Drag(ctx, image.Pt(300, 144), image.Pt(4, 144), 400*time.Millisecond)).To(Succeed())
		Expect(bench.Log(ctx, "lamp 0")).To(suites.BeMet())
		Expect(bench.Look(ctx, "off", suites.Note("At 0 % the lamp is off."))).To(suites.MatchGolden())
	})
})
