# What people run. `make demo` and `make test` are the two commands of the README.
.DEFAULT_GOAL := help
SHELL := bash
GO ?= go
export CGO_ENABLED := 1

.PHONY: help demo build package package-test test firmware check tools unit long fuzz bench benchmarks campaign diagnose-campaign million line docs site builds clean

help: ## list the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 20

demo: tools-build ## test a small lot with planted faults on simulated jigs, end to end
	$(GO) build -o bin/padjig ./cmd/padjig
	@trap : INT; bin/padjig demo || [ $$? -eq 3 ] # Ctrl-C is its end, and no error

build: tools-build ## build the program into bin/, stripped and stamped
	$(GO) build $(RELEASE) -o bin/padjig ./cmd/padjig

builds: tools-builds ## build for ARM and Windows, and run under emulation what can be: says "run" or "only built"
	$(BEHIND) env GO="$(GO)" testdata/builds.sh

# Compilers take both processors from browsers and boards, which keep real time: they come after them.
.PHONY: platforms
platforms: program
	@$(MAKE) --no-print-directory builds
	@echo "NOT PART OF THIS: make package-test, which boots a clean Debian as root and installs the package there"

# What padjig version and the records say of a program: a tag v1.2.0 makes it release 1.2.0. Nothing in it comes from the
# folder, the machine or the hour: the same commit and compilers give the same bytes.
VERSION ?= $(patsubst v%,%,$(shell git describe --tags --exact-match --match 'v*' 2>/dev/null))
COMMIT ?= $(shell git describe --always --dirty --abbrev=40 --exclude '*' 2>/dev/null)
COMMIT_DATE ?= $(shell git log -1 --format=%cI 2>/dev/null)
PROGRAM := padjig/results/store/program
STAMPS = -X $(PROGRAM).version=$(VERSION) -X $(PROGRAM).commit=$(COMMIT) -X $(PROGRAM).date=$(COMMIT_DATE)
RELEASE = -trimpath -buildvcs=false -ldflags '-s -w $(STAMPS)'

# The package is made by cmd/release, from the program as build makes it; nfpm, which packs it, stands in a list of modules of its own.
PACKAGE_VERSION ?= $(or $(VERSION),0.0.0~git$(shell git log -1 --format=%cd.%h --date=format:%Y%m%d%H%M))
package: build ## make the Debian package of this commit in bin/
	$(GO) run ./cmd/release -program bin/padjig -version '$(PACKAGE_VERSION)' -date '$(shell git log -1 --format=%cI)' -out bin

# A clean Debian is made once, and kept for the tests to come.
CLEAN_ROOT ?= $(or $(XDG_CACHE_HOME),$(HOME)/.cache)/padjig/bookworm.tar
package-test: build ## install, run, upgrade and remove the package in a clean Debian that is booted (as root)
	@command -v systemd-nspawn >/dev/null && command -v mmdebstrap >/dev/null && command -v curl >/dev/null || \
	  $(MAKE) --no-print-directory install PACKAGES="systemd-container mmdebstrap curl"
	@mkdir -p $(dir $(CLEAN_ROOT)); [ -e $(CLEAN_ROOT) ] || { mmdebstrap --variant=minbase --include=systemd,systemd-sysv,udev,dbus \
	  bookworm $(CLEAN_ROOT).new.tar && mv $(CLEAN_ROOT).new.tar $(CLEAN_ROOT); }
	$(GO) vet -tags cleanroot ./cmd/release
	$(GO) test -count=1 -timeout 10m -tags cleanroot -run '^TestFromPackageToPurge$$' ./cmd/release -root $(CLEAN_ROOT) -tried $(CURDIR)/bin/padjig -v

test: tools ## everything that must pass, installing what it needs
	@$(MAKE) --no-print-directory -j 8 --output-sync=line format vet staticcheck beside counts reckons board program plants platforms

firmware: tools-build tools-avr tools-arm ## build the reference jig's firmware for both boards, and print what it takes
	$(MAKE) --no-print-directory -C fixture/firmware hex uf2 OUT=../../bin/firmware
	$(GO) run ./fixture/firmware/figures bin/firmware/jig.elf

check: format vet staticcheck ## formatting, tidy modules, vet, staticcheck

.PHONY: format vet staticcheck
format:
	@out=$$(gofmt -l $$(git ls-files '*.go')); [ -z "$$out" ] || { echo "gofmt would change:"; echo "$$out"; exit 1; }
	$(GO) mod tidy -diff

# Vet, staticcheck and the tests look at one build, the one with the race detector in it: vet compiles it, all others
# wait for that, and nothing is compiled twice beside one another.
vet:
	$(BEHIND) $(GO) vet $(RACE) ./...

staticcheck: vet
	$(BEHIND) env GOFLAGS="$$($(GO) env GOFLAGS) $(RACE)" $$($(GO) tool -n staticcheck) ./...

# A program with the race detector in it would sleep for a second before it ends, for what a goroutine might still run
# into. A test ends what it begins.
export GORACE := atexit_sleep_ms=0

# A browser, a simulated controller and their hosts keep real time, and mostly wait: for terminals, kills, each other.
# What only reckons goes behind them (nice), into the time they leave; so they are served at once, and nothing idles.
BEHIND := nice -n 19
REALTIME := fixture/firmware cmd/padjig
# Each process of a PostgreSQL server begins a session of its own, and Linux shares processors among sessions first
# (autogroup, sched(7)): however nice, it takes time from what keeps real time. Packages whose tests start one come after.
PLANTS = $(filter-out cmd/padjig,$(patsubst %/,%,$(sort $(dir $(shell git grep -l 'results/plant/planttest"' -- '*_test.go')))))
# The detector finds nothing in what one goroutine computes, compares or asks for in a row, and takes ten times as
# long over it: these do without, and so do the campaigns, which count over many units what the other tests of
# sequence/runner do under the detector with some, the walk of people at a lane, the walks in a foreign
# language, and what reads the sources. Each has
# a name of its own, in cmd/padjig, COUNTING or ASKING (a test holds it).
COUNTS := TestEveryAnswerIsOne TestEveryLinkLeadsSomewhere TestFrozenLimitsBelongToOneChart \
  TestSumsAreWhatTheRecordsSay TestFacetsAreWhatThereIs TestGroupHistogramsAreThoseOfTheGroups TestQuestionsOfALine \
  TestPageQueriesAnswerOnAPracticeStore TestRunLotsAreThoseOfTheChangeovers TestKeysAndFindingsSayWhereAndWhen \
  TestSelectionsThatCannotBeAnswered TestAgainstModel TestLayoutOfStore TestDiagnosisCampaign TestFirstPressCampaign \
  TestFirstPressOfEveryFault TestPeopleAtRandom TestSixteenJigsAndTheirTroubles TestNoEnglishAbroad TestNothingIsRefusedInEnglish TestLanesAbroad TestCoverageInAnAdverseWorld \
  TestVerdictsInAnAdverseWorld TestPressesAreToldFromTheMeterInAnAdverseWorld TestFrettingIsSeenAsRepeatability \
  TestLeaksAreConfirmedPatiently TestSelfTestsRaiseNoFalseAlarm \
  TestOhmicContactsStayOhmic TestContactsThatAreNoConstants TestRestlessContactsAreHardlyEverCalledNotOhmic \
  TestReadingsAgainstNgspiceInTime \
  TestClaimOfUnitsOutside TestClaimOfFalseAlarms TestClaimOfPlacesOnJigs TestClaimOfFalseStops TestClaimOfShapes \
  TestRoomsHaveFewMethods TestRoomsAreSmall TestRoomsKeepNoStateOfTheirOwn TestRoomsSendNothingUnderALock \
  TestRoomsHaveNoSetters TestNamesThatAreGone TestWordsThatAreNotUsed TestImportsFollowTheMap TestWhatReckonsIsAlone \
  TestWhatIsNotWatchedSharesNothing TestStudiesInEveryState TestLinksOfTheOverviewKeepTheChoice TestNoPageIsEmptyByDefault \
  TestQuestionsOfAPlant TestEveryQuestionOnBothStores TestEveryRoomOnBothStores TestOneStationOfTwo \
  TestScriptsThatOnlyAsk
COUNTING := ./fixture ./results ./results/answers ./results/answers/charts ./results/answers/gauge ./sequence/runner ./cmd/padjig/station ./cmd/padjig/web ./cmd/padjig/web/quality
# Of those that ask a PostgreSQL server, which come after what keeps real time.
ASKING := ./results/plant
# Whole packages do without where neither they and their tests nor what they are made of starts a goroutine (a test holds it).
RECKONING := cmd/padjig/legible cmd/padjig/station/tally fixture/circuit fixture/jigsim/world fixture/jigsim/world/adc fixture/jigsim/world/physics fixture/quantity \
  fixture/wire results/report/chart results/report/pad results/report/tag results/stats results/stats/capability \
  results/stats/compare results/stats/control results/stats/gauge results/stats/interval results/stats/numeric results/stats/sampling \
  sequence/checkdigit sequence/decide sequence/devicetree sequence/diagnose sequence/diagnose/model sequence/diagnose/pattern \
  sequence/diagnose/polish sequence/exchange sequence/fields sequence/judge sequence/margin sequence/nets sequence/product \
  sequence/product/mistakes sequence/prove sequence/refbox sequence/revise sequence/wording
# What the statistics claim, simulated, each bounded by its exact binomial limits: TestClaimOf... in these.
CLAIMING := results/answers results/answers/charts results/stats/capability results/stats/compare results/stats/sampling
# Compiled without the detector within the build that has it: what turns values into text and text into values, and what
# reckons with numbers. Unseen are bytes and numbers while these look at them, and nothing else: what calls them is
# watched, as is what they call. Of ours it is what a simulated world is made of, and its state stands in the world.
UNWATCHED := regexp text/template/parse golang.org/x/crypto/argon2 golang.org/x/crypto/blake2b \
  golang.org/x/net/html gonum.org/v1/gonum/blas/gonum gonum.org/v1/gonum/internal/asm/f64 gonum.org/v1/gonum/lapack/gonum \
  gonum.org/v1/gonum/mat gonum.org/v1/gonum/mathext/internal/cephes gonum.org/v1/gonum/stat/distuv \
  padjig/fixture/circuit padjig/fixture/jigsim/world/adc padjig/fixture/jigsim/world/physics
# These reach what belongs to a caller through reflect and bytes, or do something once for many: nothing may be inlined
# (-l) out of where it is watched, nor may the compiler write an atomic load itself, which the detector would never hear of.
UNWATCHED_CALLS := encoding/json html/template regexp/syntax text/template go.yaml.in/yaml/v4 go.yaml.in/yaml/v4/internal/libyaml
RACE := -race $(UNWATCHED:%=-gcflags=%=-race=false) $(UNWATCHED_CALLS:%='-gcflags=%=-race=false -l -d=ssa/intrinsics/off')
# What vet sees is looked for once, by check.
COUNTED := ^($(subst $() $(),|,$(strip $(COUNTS))))$$
.PHONY: beside board program plants counts reckons
unit: beside counts reckons board program plants ## all tests, race detector on

beside: vet
	$(BEHIND) $(GO) test -vet=off $(RACE) -skip '$(COUNTED)' -timeout 60m \
	  $$($(GO) list ./... | grep -vxF $(patsubst %,-e padjig/%,$(REALTIME) $(RECKONING) $(PLANTS)))

board:
	$(GO) test -vet=off $(RACE) -timeout 30m ./fixture/firmware

# A simulated controller that falls behind real time is told apart from a bad one by nobody: browsers come after it.
program: board vet
	$(GO) test -vet=off $(RACE) -skip '$(COUNTED)' -parallel 3 -timeout 30m ./cmd/padjig

plants: program
	$(BEHIND) $(GO) test -vet=off $(RACE) -skip '$(COUNTED)' -timeout 30m $(PLANTS:%=./%)
	$(BEHIND) $(GO) test -vet=off -timeout 30m -run '$(COUNTED)' $(ASKING)

counts:
	$(BEHIND) $(GO) test -vet=off -timeout 30m -run '$(COUNTED)' $(COUNTING)
	$(BEHIND) $(GO) test -vet=off -timeout 30m -run '$(COUNTED)' ./cmd/padjig -paritylines 3

reckons: counts
	$(BEHIND) $(GO) test -vet=off -timeout 30m $(RECKONING:%=./%)

# Each of these is a claim of the documentation, checked at its full size; among all tests each runs smaller, held
# to the same rates.
long: tools campaign diagnose-campaign package-test ## the long checks: damaged frames, wrong decisions counted, diagnoses, a shift's memory
	$(GO) test -count=1 -timeout 0 -run '^TestCoverageInAnAdverseWorld$$' ./fixture -adverse 10000 -v
	$(GO) test -count=1 -timeout 0 -run '^(TestReadingsInAnAdverseWorld|TestNoWrongVerdictInAnAdverseWorld|TestChargeOfMultiplexersIsNoReading)$$' ./fixture/firmware -adverse 200 -adverseunits 200 -v
	$(GO) test -count=1 -timeout 0 -run '^TestVerdictsInAnAdverseWorld$$' ./sequence/runner -adverseunits 10000 -v
	$(GO) test -count=1 -timeout 0 -run 'TestPressesAreTold|TestFrettingIsSeen' ./results/answers/gauge -gaugestudies 300 -v
	$(GO) test -count=1 -timeout 0 -run '^Test(OhmicContactsStayOhmic|ContactsThatAreNoConstants)$$' ./fixture -currents 2000 -v
	$(GO) test -count=1 -timeout 60m -run '^TestReadingsAgainstNgspiceInTime$$' ./fixture -transients 25 -v
	$(GO) test -count=1 -timeout 60m -run '^TestStatedHoldsInCorners$$' ./fixture/schematic/deck -corners 2000 -v
	$(GO) test -count=1 -run '^TestGlobalRisks$$' ./sequence/runner -riskunits 50000 -v
	$(GO) test -count=1 -timeout 60m -run '^(TestLeaksAreConfirmedPatiently|TestSelfTestsRaiseNoFalseAlarm)$$' ./sequence/runner -leakunits 1000 -selftests 20000 -v
	$(GO) test -count=1 -timeout 60m -run '^TestClaimOf' $(CLAIMING:%=./%) -claims 50 -v
	$(GO) test -count=1 -run '^TestCampaign$$' ./sequence/samepad -padunits 20000 -v -timeout 0
	$(GO) test -count=1 -run '^TestPadsThroughTheJig$$' ./cmd/padjig/station -padunits 1000 -v
	$(GO) test -count=1 -run '^TestPagesShiftsMemory$$' ./cmd/padjig -shiftunits 2000 -v
	$(GO) test -count=1 -run '^TestEveryPageInABrowser$$' ./cmd/padjig -wholecrawl -v -timeout 0
	$(GO) test -count=1 -run '^TestLotOnNoisyLines$$' ./cmd/padjig -noisyunits 200 -v
	$(GO) test -count=1 -run '^TestKilledAtRandomMoments$$' ./cmd/padjig -crashes 200 -v
	$(GO) test -count=1 -timeout 60m -run '^Test(BackupDrill|ReplicaForReaders)$$' ./results/plant -drillruns 2000 -v
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
.PHONY: plant-line
plant-line: ## every question over a plant of ten million runs that PostgreSQL makes, and every page of its office, timed (PLANT: one that is there)
	nice $(GO) test ./results/plant -count=1 -timeout 5h -run '^TestQuestionsOfAPlant$$' -v $(if $(PLANT),-plantat "$(PLANT)" -plantpage,-plantruns 10000000 -plantpage)
	$(if $(PLANT),$(GO) test ./cmd/padjig -count=1 -timeout 1h -run '^$$' -bench '^BenchmarkOfficePages$$' -benchtime 1x -v -officeplant "$(PLANT)" -officepage)

line: build ## time every question over a million simulated runs (half an hour, gigabytes in LINE)
	mkdir -p $(LINE)
	[ -e $(LINE)/line.sqlite ] || bin/padjig records simulate --runs 1000000 --seed 7 --store $(LINE)/line.sqlite \
	  --product testdata/products/gcc-20.yaml
	[ -e $(LINE)/line.parquet ] || bin/padjig quality export --simulated --store $(LINE)/line.sqlite --out $(LINE)/line.parquet
	$(GO) test -count=1 -run '^TestQuestions' ./results -line $(LINE)/line.sqlite -v -timeout 30m
	$(GO) test -run '^$$' -bench '^BenchmarkQuestionsOfALine$$' -benchtime 11x -timeout 60m ./results -line $(LINE)/line.sqlite

fuzz: ## each fuzz target for half a minute
	@for pkg in $$($(GO) list ./...); do \
	  for f in $$($(GO) test -list '^Fuzz' $$pkg | grep '^Fuzz'); do \
	    echo "$$pkg $$f"; $(GO) test -run '^$$' -fuzz "^$$f$$" -fuzztime 30s $$pkg || exit 1; done; done

bench: tools ## one page of ratios, measured side by side, printed and written into docs/figures.md (a quarter of an hour)
	$(GO) run ./cmd/bench -line $(LINE)

benchmarks: tools ## every benchmark there is, once
	$(GO) test -run '^$$' -bench . -benchtime 1x ./...

docs: ## rewrite what pages and scripts show from real runs, the page of findings, and the pictures
	$(GO) test ./cmd/padjig -run 'TestScripts|TestWalk|TestPagesWithOutput|TestFindingsPage|TestPicturesOfTheDocs' -update

site: tools-build ## the docs as a site in bin/site, with a search that needs no network
	$(GO) run ./cmd/site -out bin/site

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

# That of revision 2 is for an RP2040, which a package of node's simulates.
.PHONY: tools-arm
tools-arm:
	@command -v arm-none-eabi-gcc >/dev/null || $(MAKE) --no-print-directory install PACKAGES="gcc-arm-none-eabi"

BOARD2 := fixture/firmware/rp2040/board
.PHONY: tools-board2
tools-board2:
	@command -v node >/dev/null && command -v npm >/dev/null || $(MAKE) --no-print-directory install PACKAGES="nodejs npm"
	@[ $(BOARD2)/node_modules/.package-lock.json -nt $(BOARD2)/package-lock.json ] || { cd $(BOARD2) && npm ci --no-audit --no-fund; }

# For other machines: cross compilers of Debian, and what runs programs of other processors.
.PHONY: tools-builds
tools-builds:
	@command -v aarch64-linux-gnu-gcc >/dev/null && command -v arm-linux-gnueabihf-gcc >/dev/null && \
	  command -v x86_64-w64-mingw32-gcc >/dev/null && command -v qemu-arm-static >/dev/null || \
	  $(MAKE) --no-print-directory install PACKAGES="gcc-aarch64-linux-gnu libc6-dev-arm64-cross gcc-arm-linux-gnueabihf \
	  libc6-dev-armhf-cross gcc-mingw-w64-x86-64-win32 qemu-user-static"

tools: tools-build tools-avr tools-arm tools-board2 tools-builds ## install what the tests need
	@command -v ngspice >/dev/null || $(MAKE) --no-print-directory install PACKAGES="ngspice"
	@command -v mosquitto >/dev/null || [ -x /usr/sbin/mosquitto ] || $(MAKE) --no-print-directory install PACKAGES="mosquitto"
	@ls /usr/lib/postgresql/*/bin/postgres >/dev/null 2>&1 || $(MAKE) --no-print-directory install PACKAGES="postgresql"
	@[ -e /usr/include/simavr/sim_avr.h ] || $(MAKE) --no-print-directory install PACKAGES="libsimavr-dev"
	@command -v chromium-headless-shell >/dev/null || $(MAKE) --no-print-directory install PACKAGES="chromium-headless-shell fonts-dejavu-core"
	@[ -d /usr/lib/python3/dist-packages/prometheus_client ] || $(MAKE) --no-print-directory install PACKAGES="python3 python3-prometheus-client"
	@command -v curl >/dev/null || $(MAKE) --no-print-directory install PACKAGES="curl"
	@command -v dtc >/dev/null || $(MAKE) --no-print-directory install PACKAGES="device-tree-compiler"

.PHONY: install
install:
	@command -v apt-get >/dev/null || { echo "please install: $(PACKAGES)"; exit 1; }
	$(if $(filter 0,$(shell id -u)),,sudo) apt-get -o DPkg::Lock::Timeout=300 update -q
	$(if $(filter 0,$(shell id -u)),,sudo) apt-get -o DPkg::Lock::Timeout=300 install -y -q --no-install-recommends $(PACKAGES)

clean: ## remove what was built
	rm -rf bin
