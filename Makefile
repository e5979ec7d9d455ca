# fascia: make help lists what there is.
GO ?= go

# What the tests need besides Go, gcc, make and git, as Debian 12 packages. On another system install
# the same by your own means: clang 14, lld and wasi-libc (twins are rebuilt and compared byte by byte), the
# Arm compiler and QEMU (the emulated board), chromium (pages), OpenCV (cameras), what else is named here.
TEST_PACKAGES = gcc libc6-dev cmake clang libclang-rt-14-dev libclang-rt-14-dev-wasm32 wasi-libc lld gcc-arm-none-eabi qemu-system-arm chromium libopencv-dev groff libxml2-utils libfreetype-dev fonts-dejavu-core $(if $(shell command -v npm),,nodejs npm)

# $(call need,PACKAGES): installs those that are missing, as root or through sudo.
define need
@command -v dpkg >/dev/null || { echo "no Debian here: make sure that these are installed: $(1)"; exit 0; }; \
missing=; for p in $(1); do dpkg -s $$p 2>/dev/null | grep -q '^Status: install ok' || missing="$$missing $$p"; done; \
if [ -n "$$missing" ]; then \
	as=; [ "$$(id -u)" = 0 ] || as=sudo; \
	echo "installing$$missing"; \
	$$as apt-get update -qq && DEBIAN_FRONTEND=noninteractive $$as apt-get install -y -qq --no-install-recommends $$missing >/dev/null; \
fi
endef

# Packages whose tests keep both cores busy by themselves: one at a time, each ends within a minute.
HEAVY = /cmd/fascia|/compare/photo|/suites/wander$$

.PHONY: help dist demo test long fuzz race mutants build firmware firmware-size measure pictures check

help: ## this list
	@sed -n 's/^\([a-z-]*\):.*## /\1\t/p' $(MAKEFILE_LIST) | expand -t 16

demo: ## the main job on the built-in device; needs Go alone
	@CGO_ENABLED=0 $(GO) build -o bin/demo/fascia ./cmd/fascia
	@bin/demo/fascia demo

test: ## what CI runs: formatting, vet, staticcheck, all tests
	$(call need,$(TEST_PACKAGES))
	@$(MAKE) --no-print-directory check
	$(GO) test -tags camera ./capture/camera
	$(GO) test $$($(GO) list ./... | grep -Ev '$(HEAVY)')
	$(GO) test -p 1 $$($(GO) list ./... | grep -E '$(HEAVY)')

pictures: ## makes the pictures of the README again, with the tool itself
	$(call need,chromium)
	$(GO) test ./cmd/fascia -run TestReadmePictures -update
	$(GO) test ./cmd/fascia/browser -run 'TestReadmePictures|TestPages' -update

check: ## formatting, vet, staticcheck, and that it builds without cgo and for other systems
	$(call need,libopencv-dev)
	@unformatted=$$(gofmt -l $$(git ls-files '*.go')); [ -z "$$unformatted" ] || { echo "gofmt would change: $$unformatted"; exit 1; }
	$(GO) vet ./...
	$(GO) tool staticcheck ./...
	$(GO) vet -tags camera ./capture/... ./compare/...
	$(GO) tool staticcheck -tags camera ./capture/camera/...
	CGO_ENABLED=0 $(GO) build -o /dev/null ./cmd/fascia
	CGO_ENABLED=0 GOOS=windows GOARCH=amd64 $(GO) build -o /dev/null ./cmd/fascia
	CGO_ENABLED=0 GOOS=darwin GOARCH=arm64 $(GO) build -o /dev/null ./cmd/fascia

long: ## the tests' whole campaigns instead of samples
	$(call need,$(TEST_PACKAGES))
	FASCIA_LONG=1 $(GO) test -timeout 0 ./...
	$(GO) test -timeout 0 ./capture/link -run 'BadLine|Corrupted|Garbage' -campaign 1000 -corrupt 1000000 -garbage 300000

FUZZTIME ?= 1m
fuzz: ## every fuzz target for FUZZTIME (a minute)
	@for f in $$(git grep -lE '^func Fuzz' -- '*_test.go'); do for t in $$(sed -n 's/^func \(Fuzz[A-Za-z0-9]*\).*/\1/p' $$f); do \
		echo "$$t in $$(dirname $$f)"; $(GO) test ./$$(dirname $$f) -run '^$$' -fuzz "^$$t$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 100x || exit 1; done; done

race: ## all tests under the race detector
	$(call need,$(TEST_PACKAGES))
	$(GO) test -race -timeout 0 ./...

mutants: ## would the tests notice? 300 changes of compare, golden and link, one at a time; takes an hour and more
	$(GO) run ./internal/mutants compare golden capture/link

dist: ## what is handed out of a version, into dist/: archives, Debian package, agent, SBOM, checksums
	$(call need,gcc libc6-dev g++ pkg-config dpkg-dev libopencv-dev qemu-user-static)
	$(GO) run ./cmd/fascia/internal/dist -o dist

build: ## bin/fascia
	$(GO) build -tags camera -o bin/fascia ./cmd/fascia

firmware: ## rebuilds the demo's twins and the panels that bench cost runs; needs clang and lld
	$(call need,clang lld)
	$(GO) run ./suites/demo/firmware/wasm
	$(GO) generate ./capture/link/cost

firmware-size: ## the agent's code and RAM on a Cortex-M3
	$(call need,gcc-arm-none-eabi)
	$(GO) test -count=1 -v -run AgentSize ./capture/link

measure: ## runs the benchmarks, those against OpenCV too
	$(call need,libopencv-dev)
	$(GO) test -run '^$$' -bench . -benchmem ./...
	$(GO) test -tags camera -run '^$$' -bench AgainstOpenCV ./compare ./compare/photo
