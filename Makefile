# What people run. `make demo` and `make test` are the two commands of the README.
.DEFAULT_GOAL := help
SHELL := bash
GO ?= go
export CGO_ENABLED := 1

.PHONY: help demo build test firmware check tools unit long fuzz bench campaign diagnose-campaign million line docs clean

help: ## list the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 20

demo: tools-build ## test a small lot with planted faults on simulated jigs, end to end
	$(GO) run ./cmd/padjig demo

build: tools-build ## build the program into bin/
	$(GO) build -trimpath -o bin/padjig ./cmd/padjig

test: tools ## everything that must pass, installing what it needs
	@$(MAKE) --no-print-directory -j 8 --output-sync=line format vet staticcheck beside counts reckons board program

firmware: tools-build tools-avr ## build the reference jig's firmware, and print what it takes
	$(MAKE) --no-print-directory -C fixture/firmware hex OUT=../../bin/firmware
	$(GO) run ./fixture/firmware/figures bin/firmware/jig.elf

check: format vet staticcheck ## formatting, tidy modules, vet, staticcheck

.PHONY: format vet staticcheck
format:
	@out=$$(gofmt -l $$(git ls-files '*.go')); [ -z "$$out" ] || { echo "gofmt would change:"; echo "$$out"; exit 1; }
	$(GO) mod tidy -diff

# Vet, staticcheck and the tests look at one build, the one with the race detector in it: vet compiles it, all others
# wait for that, and nothing is compiled twice beside one another.
vet:
	$(BEHIND) $(GO) vet -race ./...

staticcheck: vet
	$(BEHIND) env GOFLAGS="$$($(GO) env GOFLAGS) -race" $$($(GO) tool -n staticcheck) ./...

# A program with the race detector in it would sleep for a second before it ends, for what a goroutine might still run
# into. A test ends what it begins.
export GORACE := atexit_sleep_ms=0

# A browser, a simulated controller and their hosts keep real time, and mostly wait: for terminals, kills, each other.
# What only reckons goes behind them (nice), into the time they leave; so they are served at once, and nothing idles.
BEHIND := nice -n 19
REALTIME := fixture/firmware cmd/padjig
# The detector finds nothing in what one goroutine computes, compares or asks for in a row, and takes ten times as
# long over it: these do without, and so do the campaigns, which count over many units what the other tests of
# sequence/runner do under the detector with some, the walk of people at a lane, the walks in a foreign
# language, and what reads the sources. Each has
# a name of its own, in cmd/padjig or COUNTING (a test holds it).
COUNTS := TestEveryAnswerIsOne TestEveryLinkLeadsSomewhere TestFrozenLimitsBelongToOneChart \
  TestSumsAreWhatTheRecordsSay TestFacetsAreWhatThereIs TestGroupHistogramsAreThoseOfTheGroups TestQuestionsOfALine \
  TestPageQueriesAnswerOnAPracticeStore TestRunLotsAreThoseOfTheChangeovers TestKeysAndFindingsSayWhereAndWhen \
  TestSelectionsThatCannotBeAnswered TestAgainstModel TestLayoutOfStore TestDiagnosisCampaign TestFirstPressCampaign \
  TestFirstPressOfEveryFault TestPeopleAtRandom TestNoEnglishAbroad TestNothingIsRefusedInEnglish TestLanesAbroad \
  TestRoomsHaveFewMethods TestRoomsAreSmall TestRoomsKeepNoStateOfTheirOwn TestRoomsSendNothingUnderALock \
  TestRoomsHaveNoSetters TestNamesThatAreGone TestWordsThatAreNotUsed TestImportsFollowTheMap TestWhatReckonsIsAlone
COUNTING := ./results ./sequence/runner ./cmd/padjig/station ./cmd/padjig/web
# Whole packages do without where neither they and their tests nor what they are made of starts a goroutine (a test holds it).
RECKONING := cmd/padjig/legible cmd/padjig/station/tally fixture/circuit fixture/jigsim/world fixture/quantity fixture/wire \
  results/report/chart results/report/pad results/report/tag results/stats results/stats/capability results/stats/compare \
  results/stats/control results/stats/gauge results/stats/interval results/stats/numeric results/stats/sampling \
  sequence/checkdigit sequence/decide sequence/devicetree sequence/diagnose sequence/diagnose/model sequence/diagnose/pattern \
  sequence/diagnose/polish sequence/exchange sequence/fields sequence/judge sequence/margin sequence/nets sequence/product \
  sequence/product/mistakes sequence/prove sequence/refbox sequence/revise sequence/wording
# What vet sees is looked for once, by check.
COUNTED := ^($(subst $() $(),|,$(strip $(COUNTS))))$$
.PHONY: beside board program counts reckons
unit: beside counts reckons board program ## all tests, race detector on

beside: vet
	$(BEHIND) $(GO) test -vet=off -race -skip '$(COUNTED)' -timeout 60m \
	  $$($(GO) list ./... | grep -vxF $(patsubst %,-e padjig/%,$(REALTIME) $(RECKONING)))

board:
	$(GO) test -vet=off -race -timeout 30m ./fixture/firmware

# A simulated controller that falls behind real time is told apart from a bad one by nobody: browsers come after it.
program: board vet
	$(GO) test -vet=off -race -skip '$(COUNTED)' -parallel 3 -timeout 30m ./cmd/padjig

counts:
	$(BEHIND) $(GO) test -vet=off -timeout 30m -run '$(COUNTED)' $(COUNTING)
	$(BEHIND) $(GO) test -vet=off -timeout 30m -run '$(COUNTED)' ./cmd/padjig -paritylines 3

reckons: counts
	$(BEHIND) $(GO) test -vet=off -timeout 30m $(RECKONING:%=./%)

# Each of these is a claim of the documentation, checked at its full size; among all tests each runs smaller, held
# to the same rates.
long: tools campaign diagnose-campaign ## the long checks: damaged frames, wrong decisions counted, diagnoses, a shift's memory
	$(GO) test -count=1 -run '^TestGlobalRisks$$' ./sequence/runner -riskunits 50000 -v
	$(GO) test -count=1 -run '^TestCampaign$$' ./sequence/samepad -padunits 20000 -v -timeout 0
	$(GO) test -count=1 -run '^TestPadsThroughTheJig$$' ./cmd/padjig/station -padunits 1000 -v
	$(GO) test -count=1 -run '^TestPagesShiftsMemory$$' ./cmd/padjig -shiftunits 2000 -v
	$(GO) test -count=1 -run '^TestEveryPageInABrowser$$' ./cmd/padjig -wholecrawl -v -timeout 0
	$(GO) test -count=1 -run '^TestLotOnNoisyLines$$' ./cmd/padjig -noisyunits 200 -v
	$(GO) test -count=1 -run '^TestKilledAtRandomMoments$$' ./cmd/padjig -crashes 200 -v
	$(GO) test -count=1 -timeout 60m -run '^TestPeopleAtRandom$$' ./cmd/padjig/station -rapid.checks=3000 -v

campaign: ## ten million damaged frames, none may be accepted wrongly
	$(GO) test -count=1 -run '^TestDamagedFrames$$' ./fixture/wire -damaged 10000000 -v

diagnose-campaign: ## twenty thousand failed units diagnosed, and every kind of fault at a first press, each proved right or wrong
	$(GO) test -count=1 -timeout 30m -run '^TestDiagnosisCampaign$$' ./sequence/runner -campaign 20000 -pads 60 -v
	$(GO) test -count=1 -timeout 30m -run '^TestFirstPressOfEveryFault$$' ./sequence/runner -gentle 60 -v

million: ## measure the layouts of the store at a million runs (minutes, gigabytes)
	$(GO) test -count=1 -run '^TestLayout' ./results -million -v -timeout 60m

# The column engine is a module of its own, so that it is never a part of the program.
LINE ?= /tmp/padjig-line
line: build ## time every question over a million simulated runs (half an hour, gigabytes in LINE)
	mkdir -p $(LINE)
	[ -e $(LINE)/line.sqlite ] || bin/padjig records simulate --runs 1000000 --seed 7 --store $(LINE)/line.sqlite \
	  --product testdata/products/gcc-20.yaml
	[ -e $(LINE)/line.parquet ] || bin/padjig quality export --simulated --store $(LINE)/line.sqlite --out $(LINE)/line.parquet
	$(GO) test -count=1 -run '^TestQuestions' ./results -line $(LINE)/line.sqlite -v -timeout 30m
	cd results/testdata/columns && $(GO) test -count=1 -run '^TestQuestions$$' . -rows $(LINE)/line.parquet -v -timeout 30m
	$(GO) test -run '^$$' -bench '^BenchmarkCounting$$' -benchtime 3000x ./results

fuzz: ## each fuzz target for half a minute
	@for pkg in $$($(GO) list ./...); do \
	  for f in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz'); do \
	    echo "$$pkg $$f"; $(GO) test -run '^$$' -fuzz "^$$f$$" -fuzztime 30s $$pkg || exit 1; done; done

bench: ## benchmarks; each prints its ratio against what it is compared with
	$(GO) test -run '^$$' -bench . -benchtime 1x ./...

docs: ## rewrite the expected output of the walk and the scripts from real runs
	$(GO) test ./cmd/padjig -run 'TestScripts|TestWalk' -update

# The pictures of the manual: each is a state of a page that a test reaches (state and shot in
# cmd/padjig/screens_browser_test.go), at three sizes, light and dark, as NAME-SIZE-THEME.png. At the line, and everybody's:
SCREENS := lane-ready lane-running lane-pass lane-fail-steps lane-reseat lane-hand lane-refused lane-stopped \
  lane-lift lanes lanes-choose tag codes fails-owed door menu-display help units-found error returns-empty unit case-begun \
  case-explained report lots accounts
# Jigs, products, and the line in figures:
SCREENS += jig traffic product-mistakes product-changes product-try jigs guide-zero-lid jig-channels shifts \
  study-overview study-yields study-control-chart charts-units study-pareto study-histogram study-units

.PHONY: screens
screens: tools ## take the pictures in docs/screens anew
	@dir=$$(mktemp -d); $(GO) test ./cmd/padjig -count=1 -timeout 60m -run '^Test(Pages|Frame|Returns|Study)' -screens $$dir && rm -f docs/screens/*.png && \
	  for n in $(SCREENS); do cp $$dir/$$n-{station,laptop,phone}-{light,dark}.png docs/screens/ || exit 1; done; rm -rf $$dir
	@du -ch docs/screens/*.png | tail -1

# cgo needs a C compiler and headers; the circuit is checked against ngspice.
.PHONY: tools-build
tools-build:
	@command -v gcc >/dev/null || $(MAKE) --no-print-directory install PACKAGES="gcc libc6-dev"

# The firmware is for an ATmega2560; its tests run it in a simulated one.
.PHONY: tools-avr
tools-avr:
	@command -v avr-gcc >/dev/null && [ -e /usr/lib/avr/include/avr/io.h ] || $(MAKE) --no-print-directory install PACKAGES="gcc-avr avr-libc"

tools: tools-build tools-avr ## install what the tests need
	@command -v ngspice >/dev/null || $(MAKE) --no-print-directory install PACKAGES="ngspice"
	@[ -e /usr/include/simavr/sim_avr.h ] || $(MAKE) --no-print-directory install PACKAGES="libsimavr-dev"
	@command -v chromium-headless-shell >/dev/null || $(MAKE) --no-print-directory install PACKAGES="chromium-headless-shell fonts-dejavu-core"
	@command -v dtc >/dev/null || $(MAKE) --no-print-directory install PACKAGES="device-tree-compiler"

.PHONY: install
install:
	@command -v apt-get >/dev/null || { echo "please install: $(PACKAGES)"; exit 1; }
	$(if $(filter 0,$(shell id -u)),,sudo) apt-get -o DPkg::Lock::Timeout=300 update -q
	$(if $(filter 0,$(shell id -u)),,sudo) apt-get -o DPkg::Lock::Timeout=300 install -y -q --no-install-recommends $(PACKAGES)

clean: ## remove what was built
	rm -rf bin
