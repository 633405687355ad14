# Only Go, git and make are needed. GO and FUZZTIME can be set: make fuzz FUZZTIME=10m
GO       ?= go
FUZZTIME ?= 60s

.PHONY: demo build test vet fmt-check bench fuzz update dist advice calibration reference efficiency honesty

demo: ## the main job on embedded data
	@$(GO) run ./cmd/offbeat demo

build: ## bin/offbeat
	$(GO) build -o bin/offbeat ./cmd/offbeat

test: fmt-check vet ## everything that must hold; the runner's own lines come last
	$(GO) test -count=1 ./...

vet:
	$(GO) vet ./...

fmt-check:
	@out=$$(gofmt -l acquire cmd compare fit) && if [ -n "$$out" ]; then echo "gofmt would change:"; echo "$$out"; exit 1; fi

bench: ## speed and memory; never part of test
	$(GO) test -run '^$$' -bench . -benchmem ./...

fuzz: ## each fuzz target for FUZZTIME; what it finds stays in testdata/fuzz
	@set -e; for p in $$($(GO) list ./...); do \
	  for f in $$($(GO) test -list '^Fuzz' $$p | grep '^Fuzz' || true); do \
	    echo "$$p $$f"; $(GO) test -run '^$$' -fuzz "^$$f\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 10x $$p; \
	  done; \
	done

advice: ## the advised next readings against every fixed order of readings, over all causes; some minutes
	@ADVICE_BOARDS=$${ADVICE_BOARDS:-100} $(GO) test -count=1 -timeout 2h -run '^TestAdvice$$' ./compare/reconcile -v

calibration: ## stated probabilities and intervals against the truth and the exact optimum, boards and lots; some twenty minutes
	@OFFBEAT_CALIBRATION=$${OFFBEAT_CALIBRATION:-400} $(GO) test -count=1 -p 1 -timeout 4h -run Calibration -v ./compare/reconcile ./compare/lot ./compare/lot/hierarchy

reference: ## every stated probability against the brute-force reference, 240 boards a family; half an hour
	OFFBEAT_REFERENCE=240 $(GO) test -count=1 -timeout 2h -run TestAgainstBruteForce -v ./compare/reconcile

efficiency: ## error of each fitted quantity over the Cramer-Rao bound, over noise, slopes and sample counts; some minutes
	OFFBEAT_EFFICIENCY=100 $(GO) test -count=1 -timeout 1h -run TestEfficiency -v ./fit/measure ./fit/waveform

honesty: ## error over stated uncertainty, over classes of captures from 2 to 1000 cycles; some minutes
	OFFBEAT_STUDY=100 $(GO) test -count=1 -timeout 2h -run TestStudy -v ./fit/measure

update: ## rewrite the golden files and the examples in README.md; read the diff before you commit it
	$(GO) test -count=1 ./compare/report ./cmd/internal/cli -update

# Everything that could change the bytes is pinned here: the same commit and the same Go give the same files.
PLATFORMS ?= linux/amd64 linux/arm64 windows/amd64 windows/arm64 darwin/amd64 darwin/arm64
VCS        = $(if $(wildcard .git),-buildvcs=true,-buildvcs=false)
PINNED     = CGO_ENABLED=0 GOFLAGS= GOAMD64=v1 GOARM64=v8.0 GOEXPERIMENT=

dist: ## static binaries for PLATFORMS, manual pages and checksums in dist/; the version is the commit's
	@rm -rf dist && mkdir -p dist
	@set -e; for p in $(PLATFORMS); do \
	  os=$${p%/*}; arch=$${p#*/}; case $$os in windows) end=.exe;; *) end=;; esac; \
	  echo "dist/offbeat-$$os-$$arch$$end"; \
	  $(PINNED) GOOS=$$os GOARCH=$$arch $(GO) build $(VCS) -trimpath -ldflags '-s -w -buildid=' -o "dist/offbeat-$$os-$$arch$$end" ./cmd/offbeat; \
	done
	@$(GO) run ./cmd/offbeat man --write dist/man > /dev/null
	@cd dist && (sha256sum offbeat-* 2> /dev/null || shasum -a 256 offbeat-*) > SHA256SUMS && cat SHA256SUMS
