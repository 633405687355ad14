# Only Go, git and make are needed. GO and FUZZTIME can be set: make fuzz FUZZTIME=10m
GO       ?= go
FUZZTIME ?= 60s

.PHONY: demo build test vet fmt-check bench fuzz update dist advice calibration reference efficiency strange honesty wirings mutants

demo: ## the main job on embedded data
	@$(GO) run ./cmd/offbeat demo

build: ## bin/offbeat
	$(GO) build -o bin/offbeat ./cmd/offbeat

# What takes longest begins first, so that no core is idle at the end. Memory is not short: collecting it less often saves a tenth, and giving it
# back only when another asks for it (MADV_FREE) three quarters of the page faults. The linked test programs stay in bin/test (0.4 GB): go
# takes one again where nothing that it is made of has changed. Debugging tables would double them.
LONGEST = ./cmd/internal/cli ./compare/report/reporttest ./compare/reconcile ./compare/comparetest ./fit/measure ./compare/lot

test: fmt-check vet ## everything that must hold; the runner's own lines come last
	GOGC=400 GOMEMLIMIT=2GiB GODEBUG=madvdontneed=0 $(GO) test -count=1 -vet=off -p 2 -ldflags='-s -w' -o bin/test/ $(LONGEST) ./...

vet:
	$(GO) vet ./...

fmt-check:
	@out=$$(gofmt -l acquire cmd compare fit) && if [ -n "$$out" ]; then echo "gofmt would change:"; echo "$$out"; exit 1; fi

bench: ## speed and memory; never part of test
	$(GO) test -run '^$$' -bench . -benchmem ./...

# A limit in time to make each interesting input smaller would take all the time there is: ten tries must do.
fuzz: ## each fuzz target for FUZZTIME; what it finds stays in testdata/fuzz
	@set -e; grep -rhoE '^func Fuzz\w+' --include='*_test.go' . | wc -l | xargs printf '%s targets, $(FUZZTIME) each\n'; \
	for p in $$(grep -rlE '^func Fuzz' --include='*_test.go' . | xargs -n 1 dirname | sort -u); do \
	  for f in $$(grep -hoE '^func Fuzz\w+' $$p/*_test.go | sed 's/^func //'); do \
	    echo "$$p $$f"; $(GO) test -run '^$$' -fuzz "^$$f\$$" -fuzztime $(FUZZTIME) -fuzzminimizetime 10x $$p; \
	  done; \
	done

advice: ## the advised next readings against every fixed order of readings, over all causes; some minutes
	@ADVICE_BOARDS=$${ADVICE_BOARDS:-100} $(GO) test -count=1 -timeout 2h -run '^TestAdvice$$' ./compare/reconcile -v

calibration: ## stated probabilities and intervals against the truth and the exact optimum, boards and lots; some twenty minutes
	@OFFBEAT_CALIBRATION=$${OFFBEAT_CALIBRATION:-400} $(GO) test -count=1 -p 1 -timeout 4h -run Calibration -v ./compare/comparetest ./compare/lot ./compare/lot/hierarchy

reference: ## every stated probability against plain averages over the prior, 12 boards on each of 17 wirings; half an hour
	@OFFBEAT_REFERENCE=$${OFFBEAT_REFERENCE:-12} $(GO) test -count=1 -timeout 2h -run "TestAgainstBruteForce|TestSharpAveragesToWide" -v ./compare/comparetest

efficiency: ## error of each fitted quantity over the Cramer-Rao bound, over noise, slopes and sample counts; some minutes
	OFFBEAT_EFFICIENCY=100 $(GO) test -count=1 -timeout 1h -run TestEfficiency -v ./fit/measure ./fit/waveform

strange: ## boards with faults that no list holds: how often a sound part is blamed; some minutes
	OFFBEAT_STRANGE=$${OFFBEAT_STRANGE:-12} $(GO) test -count=1 -timeout 2h -run '^TestStrange$$' -v ./compare/comparetest

honesty: ## error over stated uncertainty, over classes of captures from 2 to 1000 cycles, hum, flicker and wander among them; jumps found, and found where there are none; pairs of printed numbers; some minutes
	OFFBEAT_STUDY=100 OFFBEAT_STUDY_SEED=$${OFFBEAT_STUDY_SEED:-20000000} $(GO) test -count=1 -timeout 2h -run '^TestStudy(Odd)?$$' -v ./fit/measure
	OFFBEAT_STUDY=1000 $(GO) test -count=1 -timeout 2h -run 'TestSteadyTrains|TestFromFive|TestWalksOfAnySize' -v ./fit/change
	OFFBEAT_STUDY=1000 $(GO) test -count=1 -timeout 2h -run TestSteadyIsNotModulated -v ./fit/steady
	OFFBEAT_STUDY=200 OFFBEAT_STUDY_SEED=31000 $(GO) test -count=1 -timeout 2h -run TestFewCycles -v ./fit/measure
	OFFBEAT_STUDY=4000 OFFBEAT_STUDY_SEED=31000 $(GO) test -count=1 -timeout 2h -run TestFewCyclesOutsidePass -v ./compare/verdict
	OFFBEAT_STUDY=2000 $(GO) test -count=1 -timeout 2h -run TestModulationIsHeld -v ./fit/measure
	OFFBEAT_STUDY=120 $(GO) test -count=1 -timeout 2h -run 'TestNoiseIsNoTrain|TestModulatedIsNotAveraged|TestBursts|TestGatedBursts' ./fit/measure
	OFFBEAT_STUDY=20 $(GO) test -count=1 -timeout 2h -run TestNoTwoContradict ./compare/report/reporttest

wirings: ## the timing laws of every wiring, with diodes turned, missing and bridged, against the integration of Kirchhoff's law; some minutes
	OFFBEAT_STUDY=$${OFFBEAT_STUDY:-20} $(GO) test -count=1 -timeout 2h -run 'TestEvery' -v ./fit/circuit

# A mutant that never ends costs its time limit: a minute and five times what the unchanged tests take, which must not come out of
# the cache. One that ran out of it counts for neither. Vet would take some mutants for faults, which is no test.
#
# A switch's case and a table are no statements of their own to Go's coverage, so no test can cover a mutant in one: such are
# left out of the share that is covered. A line is in a table where it is in no function.
MUTANTS ?= ./fit/... ./compare/verdict ./compare/lot/... ./acquire/quantity
UNSEEN   = FNR < n && (/^}/ || /^func .*}$$/) { f = 0 } /^func / && (FNR == n || !/}$$/) { f = 1 } FNR == n { exit !(!f || /^[ \t]*case /) }
mutants: ## a mutation tester over the numeric rooms, each judged by its own tests: 85 % covered, 85 % of those killed; a night, or MUTANTS=./fit/budget
	@bad=; for p in $$($(GO) list $(MUTANTS) | grep -v 'test$$' | sed 's,^offbeat,.,'); do \
	  export GOGC=400 GOFLAGS="$(GOFLAGS) -count=1 -vet=off"; began=$$(date +%s); $(GO) test -cover $$p > /dev/null || exit 1; took=$$(($$(date +%s) - began + 1)); \
	  out=$$($(GO) run github.com/go-gremlins/gremlins/cmd/gremlins@v0.6.0 unleash --workers 2 --exclude-files / --timeout-coefficient $$((60 / took + 5)) $$p 2>&1); \
	  unseen=$$(echo "$$out" | sed -nE 's/.*NOT COVERED .* at ([^:]+):([0-9]+):.*/\1 \2/p' | while read f n; do awk -v n=$$n '$(UNSEEN)' $$p/$$f && echo; done | wc -l); \
	  echo "$$out" | grep -E 'LIVED|TIMED OUT|NOT COVERED' | sed "s,^,$$p ,"; \
	  echo "$$out" | awk -v p=$$p -v unseen=$$unseen -F '[:,]' '/^Killed/ { k = $$2; l = $$4; n = $$6 - unseen; t = k + l + n } /^Timed out/ { \
	    killed = k + l ? 100 * k / (k + l) : 100; covered = t ? 100 * (k + l) / t : 100; \
	    printf "%s killed %d of %d, %.1f %%; covered %.1f %%; %d in cases and tables, %d without an end\n", p, k, k + l, killed, covered, unseen, $$2; bad = killed < 85 || covered < 85 } END { exit bad }' || bad="$$bad $$p"; \
	done; [ -z "$$bad" ] || { echo "below 85 %:$$bad"; exit 1; }

update: ## rewrite the golden files and the examples in README.md; read the diff before you commit it
	$(GO) test -count=1 ./compare/report ./cmd/internal/cli -update

# Everything that could change the bytes is pinned here: the same commit and the same Go give the same files.
PLATFORMS ?= linux/amd64 linux/arm64 windows/amd64 windows/arm64 darwin/amd64 darwin/arm64
VCS        = $(if $(wildcard .git),-buildvcs=true,-buildvcs=false)
PINNED     = CGO_ENABLED=0 GOFLAGS= GOAMD64=v1 GOARM64=v8.0 GOEXPERIMENT=

dist: ## static binaries for PLATFORMS, manual pages, checksums and the notices of what is linked, in dist/; the version is the commit's
	@rm -rf dist && mkdir -p dist
	@set -e; for p in $(PLATFORMS); do \
	  os=$${p%/*}; arch=$${p#*/}; case $$os in windows) end=.exe;; *) end=;; esac; \
	  echo "dist/offbeat-$$os-$$arch$$end"; \
	  $(PINNED) GOOS=$$os GOARCH=$$arch $(GO) build $(VCS) -trimpath -ldflags '-s -w -buildid=' -o "dist/offbeat-$$os-$$arch$$end" ./cmd/offbeat; \
	done
	@$(GO) run ./cmd/offbeat man --write dist/man > /dev/null
	@$(GO) run ./cmd/internal/notices $(PLATFORMS) > dist/NOTICES
	@cd dist && (sha256sum offbeat-* NOTICES 2> /dev/null || shasum -a 256 offbeat-* NOTICES) > SHA256SUMS && cat SHA256SUMS
