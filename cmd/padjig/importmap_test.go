package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// importMap is the architecture: which of our packages each may import. It is
// policy. A build that fails here is mended by moving code, not by adding an
// arrow; a new package needs a line of its own.
var importMap = map[string][]string{
	"fixture":                     {"fixture/link", "fixture/quantity", "fixture/wire"},
	"fixture/caught":              {},
	"fixture/circuit":             {"fixture/quantity"},
	"fixture/filelock":            {},
	"fixture/firmware":            {"fixture/jigsim/world", "fixture/jigsim/world/physics", "fixture/wire"},
	"fixture/firmware/drawings":   {},
	"fixture/firmware/figures":    {"fixture/firmware"},
	"fixture/firmware/rp2040/uf2": {},
	"fixture/guard":               {},
	"fixture/jigsim": {"fixture/circuit", "fixture/jigsim/world", "fixture/jigsim/world/physics", "fixture/quantity",
		"fixture/wire"},
	"fixture/jigsim/world": {"fixture/circuit", "fixture/jigsim/world/adc", "fixture/jigsim/world/physics",
		"fixture/jigsim/world/spelling", "fixture/quantity", "fixture/wire"},
	"fixture/jigsim/world/adc":      {"fixture/jigsim/world/physics", "fixture/wire"},
	"fixture/jigsim/world/physics":  {},
	"fixture/jigsim/world/spelling": {},
	"fixture/jigtest": {"fixture", "fixture/jigtest/arrival", "fixture/jigtest/rig", "fixture/link",
		"fixture/quantity", "fixture/wire"},
	"fixture/jigtest/arrival":   {"fixture/link", "fixture/wire"},
	"fixture/jigtest/rig":       {"fixture", "fixture/quantity", "fixture/wire"},
	"fixture/link":              {"fixture/caught", "fixture/wire"},
	"fixture/ngspice":           {},
	"fixture/quantity":          {},
	"fixture/schematic":         {},
	"fixture/schematic/deck":    {"fixture/schematic"},
	"fixture/schematic/draw":    {"fixture/schematic"},
	"fixture/schematic/figures": {"fixture/schematic"},
	"fixture/schematic/netlist": {"fixture/schematic"},
	"fixture/schematic/parts":   {"fixture/schematic"},
	"fixture/simport":           {"fixture", "fixture/jigsim", "fixture/link", "fixture/wire"},
	"fixture/wire":              {},

	"sequence":            {"fixture", "fixture/quantity", "sequence/prove"},
	"sequence/calibrate":  {"fixture", "fixture/quantity", "sequence", "sequence/product", "sequence/refbox"},
	"sequence/checkdigit": {},
	"sequence/commission": {"fixture", "fixture/quantity", "sequence", "sequence/judge", "sequence/product"},
	"sequence/decide":     {},
	"sequence/devicetree": {"fixture/quantity", "sequence/product"},
	"sequence/diagnose": {"fixture/quantity", "sequence/diagnose/model", "sequence/diagnose/pattern",
		"sequence/diagnose/polish", "sequence/diagnose/readings", "sequence/exchange", "sequence/nets",
		"sequence/product"},
	"sequence/diagnose/model": {"sequence/diagnose/polish", "sequence/diagnose/readings", "sequence/nets",
		"sequence/product"},
	"sequence/diagnose/padtest": {"sequence/product"},
	"sequence/diagnose/pattern": {},
	"sequence/diagnose/polish":  {},
	"sequence/diagnose/readings": {"fixture/quantity", "sequence/diagnose/pattern", "sequence/diagnose/polish",
		"sequence/nets", "sequence/product"},
	"sequence/evidence": {"fixture", "sequence", "sequence/diagnose", "sequence/diagnose/readings", "sequence/judge",
		"sequence/nets", "sequence/product"},
	"sequence/exchange": {},
	"sequence/fields":   {},
	"sequence/judge": {"fixture", "fixture/circuit", "fixture/quantity", "sequence", "sequence/decide",
		"sequence/exchange", "sequence/nets", "sequence/product", "sequence/prove"},
	"sequence/margin": {"fixture/circuit", "fixture/quantity", "sequence/product"},
	"sequence/nets":   {},
	"sequence/product": {"fixture/circuit", "fixture/quantity", "sequence/checkdigit", "sequence/decide",
		"sequence/fields", "sequence/prove", "sequence/script"},
	"sequence/product/editor":   {},
	"sequence/product/mistakes": {"sequence/fields", "sequence/product", "sequence/wording"},
	"sequence/prove":            {},
	"sequence/refbox":           {"fixture/quantity", "sequence/fields", "sequence/nets"},
	"sequence/revise": {"fixture", "fixture/quantity", "sequence", "sequence/decide", "sequence/judge",
		"sequence/product"},
	"sequence/runner": {"fixture", "fixture/quantity", "sequence", "sequence/decide", "sequence/diagnose",
		"sequence/diagnose/readings", "sequence/evidence", "sequence/judge", "sequence/nets", "sequence/product",
		"sequence/prove"},
	"sequence/samepad": {},
	"sequence/script":  {},
	"sequence/wording": {"fixture/quantity", "sequence", "sequence/commission", "sequence/diagnose", "sequence/prove",
		"sequence/revise"},

	"results": {"results/accounts", "results/backup", "results/care", "results/fails", "results/floor",
		"results/handoff", "results/hourly", "results/lines", "results/listing", "results/nest", "results/notices",
		"results/pads", "results/plant/view", "results/releases", "results/returns", "results/runs", "results/stops",
		"results/store", "results/studies", "results/tokens", "results/units", "results/worked", "sequence"},
	"results/accounts": {"results/store"},
	"results/answers": {"results", "results/care", "results/fails", "results/floor", "results/hourly",
		"results/lines", "results/plant/view", "results/stats", "results/stats/capability", "results/stats/compare",
		"results/stats/control", "results/stats/gauge", "results/stats/interval", "results/stats/sampling",
		"results/stops", "sequence/decide", "sequence/product"},
	"results/answers/answerstest": {"fixture", "fixture/quantity", "results", "results/floor", "results/lines",
		"results/runs", "sequence"},
	"results/answers/charts": {"results", "results/answers", "results/floor", "results/lines", "results/stats",
		"results/stats/control", "results/worked"},
	"results/answers/choice": {"results", "results/answers", "results/floor", "results/lines", "sequence"},
	"results/answers/gauge": {"results", "results/answers", "results/care", "results/lines", "results/stats",
		"results/stats/capability", "results/stats/compare", "results/stats/control", "results/stats/gauge",
		"results/studies", "sequence", "sequence/decide"},
	"results/answers/overview": {"results", "results/answers", "results/answers/probes", "results/care",
		"results/lines", "results/stats/compare"},
	"results/answers/plans": {"results/answers", "results/stats/sampling", "sequence"},
	"results/answers/plant": {"results", "results/answers", "results/answers/upkeep", "results/care", "results/lines",
		"results/pads", "results/plant/postgres", "results/plant/view", "results/runs", "results/stats",
		"results/stats/compare", "results/stats/interlab", "results/stats/numeric", "results/store", "sequence/samepad"},
	"results/answers/probes": {"results", "results/answers", "results/care", "results/lines", "results/stats",
		"results/stats/compare"},
	"results/answers/ratio": {"results/stats"},
	"results/answers/trial": {"results", "results/answers", "results/lines", "results/releases", "results/runs",
		"sequence", "sequence/calibrate", "sequence/product", "sequence/revise"},
	"results/answers/units": {"results", "results/answers", "results/lines"},
	"results/answers/upkeep": {"results", "results/answers", "results/care", "results/lines", "results/store",
		"results/studies", "sequence", "sequence/calibrate", "sequence/product"},
	"results/backup": {"results/store"},
	"results/care": {"fixture", "fixture/quantity", "results/definition", "results/floor", "results/hourly",
		"results/runs", "results/store", "sequence", "sequence/commission", "sequence/diagnose/pattern",
		"sequence/diagnose/readings", "sequence/product"},
	"results/definition": {},
	"results/fails":      {"results/accounts", "results/store", "sequence"},
	"results/floor":      {"results/store"},
	"results/handoff":    {"results/fails", "results/returns", "results/runs", "results/store", "sequence"},
	"results/hourly":     {"results/floor", "results/runs", "results/store"},
	"results/lines": {"fixture", "fixture/quantity", "results/definition", "results/floor", "results/hourly",
		"results/store", "sequence"},
	"results/linesim": {"fixture", "fixture/quantity", "results", "results/care", "results/floor", "results/runs",
		"sequence", "sequence/judge", "sequence/nets", "sequence/product", "sequence/prove"},
	"results/listing": {"results/store", "sequence"},
	"results/nest":    {"fixture", "results/store"},
	"results/notices": {"results/accounts", "results/floor", "results/plant/notice", "results/releases",
		"results/runs", "results/store"},
	"results/pads": {"results/runs", "results/store", "sequence", "sequence/samepad"},
	"results/plant/asked": {"fixture/caught", "results/plant/postgres", "results/returns", "results/runs/elsewhere",
		"results/store", "sequence"},
	"results/plant/board":    {"results/plant/notice", "results/store"},
	"results/plant/conflict": {"results/pads", "results/plant/postgres", "results/store", "sequence"},
	"results/plant/count": {"results/floor", "results/hourly", "results/plant/postgres", "results/runs",
		"results/store", "sequence"},
	"results/plant/forward": {"results/plant/count", "results/plant/postgres", "results/plant/tables", "results/store"},
	"results/plant/notice":  {},
	"results/plant/planttest": {"results", "results/linesim", "results/plant/postgres", "results/report/machine",
		"sequence/product"},
	"results/plant/postgres":        {},
	"results/plant/retention":       {"results/plant/postgres", "results/store"},
	"results/plant/roles":           {"results/plant/forward", "results/plant/postgres"},
	"results/plant/sizing":          {"results/store"},
	"results/plant/tables":          {},
	"results/plant/view":            {"results/floor", "results/plant/postgres", "results/store"},
	"results/releases":              {"results/accounts", "results/runs", "results/store", "sequence/product", "sequence/revise"},
	"results/releases/releasestest": {"results", "results/accounts", "results/releases", "sequence/product"},
	"results/report": {"results/answers", "results/answers/charts", "results/answers/gauge",
		"results/answers/overview", "results/answers/plans", "results/answers/plant", "results/answers/probes",
		"results/answers/units", "results/answers/upkeep", "results/care", "results/fails", "results/floor",
		"results/lines", "results/pads", "results/plant/conflict", "results/plant/view", "results/report/chart",
		"results/report/pad", "results/studies", "sequence/wording"},
	"results/report/barcode": {},
	"results/report/cfx":     {"results/runs", "sequence", "sequence/product"},
	"results/report/chart":   {},
	"results/report/columns": {},
	"results/report/machine": {},
	"results/report/pad":     {"sequence", "sequence/product"},
	"results/report/returned": {"fixture", "fixture/quantity", "results", "results/definition", "results/floor",
		"results/pads", "results/report/columns", "results/report/pad", "results/returns", "results/runs",
		"results/runs/elsewhere", "results/store", "sequence", "sequence/decide", "sequence/diagnose", "sequence/wording"},
	"results/report/tag": {"results/fails", "results/floor", "results/report/barcode", "results/report/pad",
		"results/runs", "sequence", "sequence/diagnose", "sequence/evidence", "sequence/product", "sequence/wording"},
	"results/returns": {"fixture/quantity", "results/accounts", "results/care", "results/definition", "results/floor",
		"results/runs", "results/runs/elsewhere", "results/store", "sequence", "sequence/fields", "sequence/product"},
	"results/runs": {"fixture", "fixture/quantity", "results/nest", "results/runs/elsewhere", "results/runs/inhand",
		"results/store", "sequence", "sequence/product", "sequence/prove"},
	"results/runs/elsewhere":   {"results/store", "sequence"},
	"results/runs/inhand":      {"fixture/filelock"},
	"results/runs/runstest":    {"fixture", "fixture/quantity", "results/runs", "sequence"},
	"results/stats":            {"results/stats/numeric"},
	"results/stats/capability": {"results/stats", "results/stats/numeric"},
	"results/stats/compare":    {"results/stats", "results/stats/interval", "results/stats/numeric"},
	"results/stats/control":    {"results/stats", "results/stats/numeric"},
	"results/stats/gauge":      {"results/stats", "results/stats/interval", "results/stats/numeric"},
	"results/stats/interlab":   {"results/stats", "results/stats/numeric"},
	"results/stats/interval":   {"results/stats", "results/stats/numeric"},
	"results/stats/numeric":    {},
	"results/stats/reference":  {},
	"results/stats/sampling":   {"results/stats/numeric"},
	"results/stops":            {"results/store", "sequence", "sequence/product"},
	"results/store":            {"fixture/filelock", "results/store/program"},
	"results/store/program":    {},
	"results/studies":          {"results/definition", "results/lines", "results/runs", "results/store", "sequence"},
	"results/testdata/columns": {},
	"results/tokens":           {"results/store"},
	"results/units":            {"results/store", "sequence"},
	"results/worked":           {},

	"cmd/bench":                 {"results/answers/ratio", "results/report/columns", "results/report/machine"},
	"cmd/padjig":                {"*"},
	"cmd/padjig/account":        {},
	"cmd/padjig/account/signin": {"cmd/padjig/account", "cmd/padjig/log", "results", "results/accounts"},
	"cmd/padjig/asked": {"cmd/padjig/object", "results", "results/answers", "results/answers/choice",
		"results/answers/upkeep", "results/fails", "results/lines", "results/pads", "results/plant/view",
		"results/report", "results/returns", "results/runs"},
	"cmd/padjig/command": {"cmd/padjig/account", "cmd/padjig/account/signin", "cmd/padjig/command/terminal",
		"cmd/padjig/log", "cmd/padjig/station", "fixture", "fixture/link", "results", "results/accounts",
		"results/floor", "results/plant/asked", "results/plant/forward", "results/plant/postgres",
		"results/report/columns", "results/store", "sequence", "sequence/product", "sequence/script", "sequence/wording"},
	"cmd/padjig/command/output": {"cmd/padjig/command", "fixture/link", "results/report", "results/report/returned",
		"results/report/tag", "results/store"},
	"cmd/padjig/command/server": {"cmd/padjig/account/signin", "cmd/padjig/command",
		"cmd/padjig/command/server/ready", "cmd/padjig/command/testrun", "cmd/padjig/doctor", "cmd/padjig/doctor/look",
		"cmd/padjig/legible", "cmd/padjig/log", "cmd/padjig/station", "cmd/padjig/station/diary",
		"cmd/padjig/station/pulse", "cmd/padjig/web", "cmd/padjig/web/metrics", "cmd/padjig/web/office",
		"cmd/padjig/web/products", "fixture", "fixture/link", "results", "results/plant/asked", "results/returns",
		"results/runs", "sequence", "sequence/product", "sequence/refbox"},
	"cmd/padjig/command/server/ready": {},
	"cmd/padjig/command/settings":     {"cmd/padjig/command", "cmd/padjig/object", "sequence/fields"},
	"cmd/padjig/command/simulated": {"cmd/padjig/command", "fixture/circuit", "fixture/jigsim",
		"fixture/jigsim/world", "fixture/wire", "sequence/product", "sequence/refbox"},
	"cmd/padjig/command/terminal": {"cmd/padjig/station", "results/report/columns", "sequence", "sequence/wording"},
	"cmd/padjig/command/testrun": {"cmd/padjig/command", "cmd/padjig/command/output", "cmd/padjig/command/terminal",
		"cmd/padjig/station", "cmd/padjig/station/reach", "fixture", "fixture/link", "fixture/quantity", "results",
		"results/fails", "results/floor", "results/report/pad", "results/report/returned", "results/returns",
		"results/runs", "sequence", "sequence/diagnose", "sequence/diagnose/readings", "sequence/evidence",
		"sequence/product", "sequence/runner", "sequence/wording"},
	"cmd/padjig/demo": {"cmd/padjig/account", "cmd/padjig/command", "cmd/padjig/command/output",
		"cmd/padjig/command/server", "cmd/padjig/command/simulated", "cmd/padjig/command/terminal",
		"cmd/padjig/command/testrun", "cmd/padjig/placing", "cmd/padjig/station", "results", "results/accounts",
		"results/answers", "results/fails", "results/lines", "results/linesim", "results/runs", "results/stops",
		"sequence", "sequence/product", "sequence/runner"},
	"cmd/padjig/doctor": {"sequence/wording"},
	"cmd/padjig/doctor/look": {"cmd/padjig/account", "cmd/padjig/doctor", "fixture/link", "results",
		"results/accounts", "results/answers/upkeep", "results/plant/forward", "results/plant/notice",
		"results/plant/postgres", "results/store"},
	"cmd/padjig/jig": {"cmd/padjig/account", "cmd/padjig/asked", "cmd/padjig/command", "cmd/padjig/command/output",
		"cmd/padjig/command/simulated", "cmd/padjig/command/terminal", "cmd/padjig/object", "cmd/padjig/station",
		"cmd/padjig/station/calibration", "cmd/padjig/station/commissioning", "cmd/padjig/station/reach", "fixture",
		"fixture/jigsim", "fixture/jigtest", "fixture/link", "fixture/wire", "results", "results/accounts",
		"results/care", "results/floor", "results/report/columns", "sequence", "sequence/calibrate",
		"sequence/commission", "sequence/fields", "sequence/product", "sequence/refbox", "sequence/wording"},
	"cmd/padjig/legible": {},
	"cmd/padjig/log":     {},
	"cmd/padjig/manual":  {"cmd/padjig/command"},
	"cmd/padjig/object": {"cmd/padjig/doctor", "fixture", "fixture/jigtest", "fixture/link", "fixture/quantity",
		"fixture/wire", "results/accounts", "results/backup", "results/care", "results/fails", "results/floor",
		"results/handoff", "results/listing", "results/notices", "results/pads", "results/plant/conflict",
		"results/plant/forward", "results/plant/notice", "results/plant/retention", "results/report",
		"results/report/returned", "results/returns", "results/runs", "results/stops", "results/store",
		"results/store/program", "results/tokens", "sequence", "sequence/commission", "sequence/decide",
		"sequence/diagnose", "sequence/diagnose/polish", "sequence/diagnose/readings", "sequence/evidence",
		"sequence/margin", "sequence/product", "sequence/revise", "sequence/wording"},
	"cmd/padjig/placing": {"results/fails", "results/floor", "results/store", "sequence"},
	"cmd/padjig/plant": {"cmd/padjig/account", "cmd/padjig/asked", "cmd/padjig/command", "cmd/padjig/command/server",
		"cmd/padjig/command/terminal", "cmd/padjig/log", "cmd/padjig/object", "cmd/padjig/serve/notices",
		"cmd/padjig/web/metrics", "cmd/padjig/web/notices", "cmd/padjig/web/office", "cmd/padjig/web/page",
		"cmd/padjig/web/plant", "results", "results/answers", "results/answers/choice", "results/answers/plant",
		"results/answers/upkeep", "results/floor", "results/lines", "results/notices", "results/plant/board",
		"results/plant/conflict", "results/plant/count", "results/plant/forward", "results/plant/notice",
		"results/plant/postgres", "results/plant/retention", "results/plant/roles", "results/releases", "results/report",
		"results/store/program", "sequence/wording"},
	"cmd/padjig/product": {"cmd/padjig/account", "cmd/padjig/command", "cmd/padjig/command/output",
		"cmd/padjig/command/terminal", "cmd/padjig/object", "cmd/padjig/station", "fixture", "fixture/jigsim",
		"fixture/quantity", "results", "results/answers", "results/answers/trial", "results/releases", "results/report",
		"results/report/pad", "results/runs", "sequence/decide", "sequence/devicetree", "sequence/margin",
		"sequence/product", "sequence/product/editor", "sequence/revise", "sequence/runner", "sequence/wording"},
	"cmd/padjig/quality": {"cmd/padjig/account", "cmd/padjig/asked", "cmd/padjig/command",
		"cmd/padjig/command/output", "cmd/padjig/command/terminal", "cmd/padjig/command/testrun", "cmd/padjig/object",
		"cmd/padjig/station", "fixture", "results", "results/answers", "results/answers/charts",
		"results/answers/choice", "results/answers/gauge", "results/answers/overview", "results/answers/plans",
		"results/answers/probes", "results/answers/units", "results/floor", "results/lines", "results/report",
		"results/runs", "results/stops", "results/store", "results/studies", "sequence", "sequence/product"},
	"cmd/padjig/records": {"cmd/padjig/account", "cmd/padjig/command", "cmd/padjig/command/terminal",
		"cmd/padjig/object", "results", "results/backup", "results/floor", "results/handoff", "results/linesim",
		"results/report/cfx", "results/store", "sequence"},
	"cmd/padjig/returns": {"cmd/padjig/account", "cmd/padjig/command", "cmd/padjig/command/output",
		"cmd/padjig/command/terminal", "cmd/padjig/command/testrun", "cmd/padjig/object", "cmd/padjig/station",
		"results", "results/floor", "results/report/returned", "results/returns", "results/runs", "results/store",
		"sequence", "sequence/decide", "sequence/product"},
	"cmd/padjig/serve": {"cmd/padjig/account", "cmd/padjig/command", "cmd/padjig/command/server",
		"cmd/padjig/command/terminal", "cmd/padjig/doctor", "cmd/padjig/doctor/look", "cmd/padjig/legible",
		"cmd/padjig/log", "cmd/padjig/object", "cmd/padjig/serve/backups", "cmd/padjig/serve/forward",
		"cmd/padjig/serve/handoff", "cmd/padjig/serve/notices", "cmd/padjig/station", "results", "results/accounts",
		"results/backup", "results/floor", "results/plant/forward", "results/plant/notice", "results/report",
		"results/store/program", "results/tokens", "sequence/wording"},
	"cmd/padjig/serve/backups": {},
	"cmd/padjig/serve/forward": {"cmd/padjig/log", "cmd/padjig/web/metrics", "results/plant/forward"},
	"cmd/padjig/serve/handoff": {"cmd/padjig/log", "cmd/padjig/object", "results/handoff", "results/store"},
	"cmd/padjig/serve/notices": {"cmd/padjig/log", "results/notices", "results/plant/board", "results/plant/notice",
		"results/store"},
	"cmd/padjig/station": {"cmd/padjig/station/apart", "cmd/padjig/station/lid", "cmd/padjig/station/note",
		"cmd/padjig/station/pulse", "cmd/padjig/station/queue", "cmd/padjig/station/start", "cmd/padjig/station/tally",
		"cmd/padjig/station/tower", "cmd/padjig/station/watch", "fixture", "fixture/caught", "fixture/link", "results",
		"results/care", "results/fails", "results/floor", "results/nest", "results/notices", "results/plant/asked",
		"results/returns", "results/runs", "results/stops", "results/store", "sequence", "sequence/calibrate",
		"sequence/diagnose/readings", "sequence/product", "sequence/prove", "sequence/runner", "sequence/wording"},
	"cmd/padjig/station/apart": {"results/runs", "results/runs/elsewhere"},
	"cmd/padjig/station/calibration": {"cmd/padjig/station", "cmd/padjig/station/watch", "fixture", "results",
		"results/care", "sequence", "sequence/calibrate", "sequence/refbox"},
	"cmd/padjig/station/commissioning": {"cmd/padjig/station/calibration", "fixture", "results", "results/care",
		"sequence", "sequence/calibrate", "sequence/commission", "sequence/judge", "sequence/product", "sequence/refbox"},
	"cmd/padjig/station/diary": {"cmd/padjig/log", "cmd/padjig/station", "cmd/padjig/station/note", "fixture/caught",
		"sequence"},
	"cmd/padjig/station/lid":   {"fixture"},
	"cmd/padjig/station/note":  {},
	"cmd/padjig/station/pulse": {},
	"cmd/padjig/station/queue": {},
	"cmd/padjig/station/reach": {"cmd/padjig/station", "fixture", "fixture/link", "sequence"},
	"cmd/padjig/station/start": {},
	"cmd/padjig/station/tally": {"results/runs", "sequence"},
	"cmd/padjig/station/tower": {"fixture/wire", "sequence"},
	"cmd/padjig/station/watch": {"fixture/caught", "fixture/link"},
	"cmd/padjig/unit": {"cmd/padjig/account", "cmd/padjig/asked", "cmd/padjig/command", "cmd/padjig/command/output",
		"cmd/padjig/command/terminal", "cmd/padjig/command/testrun", "cmd/padjig/object", "cmd/padjig/placing",
		"cmd/padjig/station", "cmd/padjig/station/reach", "fixture/link", "results", "results/accounts",
		"results/answers/plant", "results/care", "results/fails", "results/floor", "results/pads", "results/report",
		"results/report/returned", "results/report/tag", "results/returns", "results/runs", "results/store", "sequence",
		"sequence/diagnose", "sequence/diagnose/readings", "sequence/evidence", "sequence/product", "sequence/runner",
		"sequence/wording"},
	"cmd/padjig/version": {"cmd/padjig/command", "cmd/padjig/command/settings", "cmd/padjig/object",
		"results/store/program"},
	"cmd/padjig/web": {"cmd/padjig/account", "cmd/padjig/doctor", "cmd/padjig/legible", "cmd/padjig/log",
		"cmd/padjig/station", "cmd/padjig/web/api", "cmd/padjig/web/bearer", "cmd/padjig/web/checkup",
		"cmd/padjig/web/control", "cmd/padjig/web/desk", "cmd/padjig/web/door", "cmd/padjig/web/floor",
		"cmd/padjig/web/jigs", "cmd/padjig/web/lane", "cmd/padjig/web/metrics", "cmd/padjig/web/office",
		"cmd/padjig/web/page", "cmd/padjig/web/people", "cmd/padjig/web/products", "cmd/padjig/web/quality", "results",
		"results/backup", "results/fails", "results/report/chart", "results/report/tag", "results/store",
		"results/store/program", "results/units", "sequence", "sequence/refbox"},
	"cmd/padjig/web/api": {"cmd/padjig/asked", "cmd/padjig/object", "cmd/padjig/web/metrics", "results",
		"results/answers", "results/answers/choice", "results/lines", "results/listing", "results/runs", "results/store",
		"results/tokens", "sequence"},
	"cmd/padjig/web/bearer":  {"cmd/padjig/account", "cmd/padjig/log", "cmd/padjig/web/api", "results/tokens"},
	"cmd/padjig/web/checkup": {"cmd/padjig/doctor", "cmd/padjig/web/page"},
	"cmd/padjig/web/control": {"cmd/padjig/station", "cmd/padjig/station/watch", "cmd/padjig/web/page",
		"results/stops", "sequence/product"},
	"cmd/padjig/web/desk": {"cmd/padjig/account", "cmd/padjig/station", "cmd/padjig/web/control",
		"cmd/padjig/web/pad", "cmd/padjig/web/page", "fixture", "results", "results/answers", "results/report",
		"results/report/pad", "results/report/returned", "results/returns", "results/runs", "results/store", "sequence",
		"sequence/decide", "sequence/diagnose", "sequence/diagnose/readings", "sequence/evidence", "sequence/product",
		"sequence/runner"},
	"cmd/padjig/web/door": {"cmd/padjig/account", "cmd/padjig/account/signin", "cmd/padjig/web/page", "results"},
	"cmd/padjig/web/floor": {"cmd/padjig/account", "cmd/padjig/station", "cmd/padjig/web/control",
		"cmd/padjig/web/page", "results", "results/fails", "results/floor"},
	"cmd/padjig/web/jigs": {"cmd/padjig/station", "cmd/padjig/station/calibration", "cmd/padjig/station/lid",
		"cmd/padjig/web/control", "cmd/padjig/web/page", "fixture", "fixture/link", "fixture/quantity", "fixture/wire",
		"results", "results/accounts", "results/answers/upkeep", "results/care", "results/report",
		"results/report/chart", "results/store", "results/studies", "sequence", "sequence/calibrate",
		"sequence/commission", "sequence/product", "sequence/refbox", "sequence/wording"},
	"cmd/padjig/web/lane": {"cmd/padjig/account", "cmd/padjig/legible", "cmd/padjig/placing", "cmd/padjig/station",
		"cmd/padjig/station/watch", "cmd/padjig/web/control", "cmd/padjig/web/pad", "cmd/padjig/web/page",
		"fixture/caught", "fixture/link", "results", "results/accounts", "results/fails", "results/report/barcode",
		"results/report/pad", "results/report/tag", "results/runs", "results/stops", "results/store", "sequence",
		"sequence/product"},
	"cmd/padjig/web/metrics": {"cmd/padjig/station", "results", "results/listing", "results/store"},
	"cmd/padjig/web/notices": {"cmd/padjig/web/page", "results", "results/answers/plant", "results/notices",
		"results/plant/board", "results/plant/notice", "results/releases"},
	"cmd/padjig/web/office": {"cmd/padjig/web/page", "results", "results/floor"},
	"cmd/padjig/web/pad":    {"results/report", "results/report/pad", "sequence", "sequence/product", "sequence/wording"},
	"cmd/padjig/web/page": {"cmd/padjig/account", "cmd/padjig/doctor", "results/floor", "results/report", "sequence",
		"sequence/product/mistakes", "sequence/wording"},
	"cmd/padjig/web/people": {"cmd/padjig/account", "cmd/padjig/web/door", "cmd/padjig/web/page", "results",
		"results/accounts", "results/report/barcode"},
	"cmd/padjig/web/plant": {"cmd/padjig/account", "cmd/padjig/web/page", "results", "results/answers",
		"results/answers/choice", "results/answers/plant", "results/answers/upkeep", "results/lines",
		"results/plant/conflict", "results/report", "results/store"},
	"cmd/padjig/web/products": {"cmd/padjig/station", "cmd/padjig/web/control", "cmd/padjig/web/pad",
		"cmd/padjig/web/page", "results", "results/accounts", "results/answers", "results/answers/trial",
		"results/releases", "results/report", "results/report/pad", "results/runs", "sequence/devicetree",
		"sequence/judge", "sequence/product", "sequence/product/mistakes", "sequence/prove", "sequence/revise"},
	"cmd/padjig/web/quality": {"cmd/padjig/web/control", "cmd/padjig/web/page", "cmd/padjig/web/quality/filter",
		"results", "results/answers", "results/answers/charts", "results/answers/choice", "results/answers/gauge",
		"results/answers/overview", "results/answers/plans", "results/answers/probes", "results/answers/units",
		"results/floor", "results/lines", "results/report", "results/report/chart", "results/runs", "results/stops",
		"results/studies", "sequence", "sequence/decide", "sequence/product"},
	"cmd/padjig/web/quality/filter": {"cmd/padjig/web/page", "results/answers/choice", "results/floor",
		"results/lines"},
	"cmd/padjig/web/webtest": {"cmd/padjig/account", "cmd/padjig/doctor", "cmd/padjig/doctor/look",
		"cmd/padjig/legible", "cmd/padjig/log", "cmd/padjig/station", "cmd/padjig/station/diary", "cmd/padjig/web",
		"cmd/padjig/web/door", "cmd/padjig/web/lane", "cmd/padjig/web/page", "cmd/padjig/web/products", "fixture",
		"fixture/jigsim", "fixture/jigsim/world", "fixture/link", "fixture/quantity", "fixture/simport", "fixture/wire",
		"results", "results/accounts", "results/fails", "results/returns", "sequence", "sequence/product",
		"sequence/wording"},
	"cmd/release":      {},
	"cmd/site":         {},
	"cmd/site/picture": {"sequence/product"},
}

// soleImporter names the packages, with those below them, that may import a
// library which must stay replaceable, or some of ours that only one may reckon with.
var soleImporter = map[string][]string{
	"go.bug.st/serial":                 {"fixture/link"},
	"github.com/mattn/go-sqlite3":      {"results/store"},
	"github.com/jackc/pgx":             {"results/plant"},
	"github.com/parquet-go/parquet-go": {"results/report", "results/plant/retention"}, // rows as people ask for them, rows as they were stored
	"padjig/results/stats":             {"results/answers"},                           // else a surface reckons for itself, and differently
}

const root = "../.."

func TestImportsFollowTheMap(t *testing.T) {
	found := map[string]bool{}
	for _, file := range sources(t) {
		pkg := filepath.ToSlash(filepath.Dir(file))
		found[pkg] = true
		allowed, known := importMap[pkg]
		if !assert.True(t, known, "%s has no line in the import map", pkg) {
			continue
		}
		for _, path := range imports(t, file) {
			if own, ok := strings.CutPrefix(path, "padjig/"); ok {
				assert.True(t, slices.Contains(allowed, own) || slices.Contains(allowed, "*"), "%s may not import %s (%s)", pkg, own, file)
			}
			for library, sole := range soleImporter {
				if liesIn(path, library) && !liesIn("padjig/"+pkg, library) {
					assert.True(t, slices.ContainsFunc(sole, func(top string) bool { return liesIn(pkg, top) }), "%s: only %v may import %s", pkg, sole, library)
				}
			}
		}
	}
	require.Greater(t, len(found), 5, "the walk found the packages")
}

// The world that a simulated jig measures in shares nothing with the budget that its
// readings are held to, by no way round: errors drawn from what the budget assumes would
// show that two parts of one program agree. What both have from the jig's statement
// (wire.Identity) the influences in physics contradict, and those reach nothing of ours.
func TestTheWorldSharesNothingWithTheBudget(t *testing.T) {
	budget := []string{"fixture", "fixture/jigtest", "fixture/link", "fixture/simport"}
	for pkg := range importMap {
		if !liesIn(pkg, "fixture/jigsim") {
			continue
		}
		for reached := range reachable(pkg, map[string]bool{}) {
			assert.NotContains(t, budget, reached, "%s knows what readings are held to", pkg)
		}
	}
	assert.Len(t, reachable("fixture/jigsim/world/physics", map[string]bool{}), 1)
	assert.Contains(t, reachable("fixture/simport", map[string]bool{}), "fixture", "it is the walk that finds nothing")
}

// reachable lists a package and all that it may import, directly or not.
func reachable(pkg string, seen map[string]bool) map[string]bool {
	if !seen[pkg] {
		seen[pkg] = true
		for _, next := range importMap[pkg] {
			reachable(next, seen)
		}
	}
	return seen
}

// liesIn reports whether a package is the given one or lies below it.
func liesIn(pkg, top string) bool { return pkg == top || strings.HasPrefix(pkg, top+"/") }

// The order of a test stands once: nobody else among the commands and pages claims
// a unit or runs a plan. A stage or a study that did would need its own order.
func TestTheOrderOfATestStandsOnce(t *testing.T) {
	found := 0
	for _, file := range sources(t) {
		if !strings.HasPrefix(filepath.ToSlash(file), "cmd/") {
			continue
		}
		parsed, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, 0)
		require.NoError(t, err)
		ast.Inspect(parsed, func(n ast.Node) bool {
			call, is := n.(*ast.CallExpr)
			if !is || len(call.Args) != 4 {
				return true
			}
			if of, is := call.Fun.(*ast.SelectorExpr); is && (of.Sel.Name == "Begin" || of.Sel.Name == "Run") {
				found++
				assert.Equal(t, "cmd/padjig/station/order.go", filepath.ToSlash(file), "%s", of.Sel.Name)
			}
			return true
		})
	}
	assert.Equal(t, 2, found, "the claim and the run")
}

// sources lists the Go files that are not tests, relative to the root.
func sources(t *testing.T) []string {
	return slices.DeleteFunc(goFiles(t), func(file string) bool { return strings.HasSuffix(file, "_test.go") })
}

// goFiles lists all Go files of the module, relative to the root.
func goFiles(t *testing.T) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root:
			return fs.SkipDir
		case strings.HasSuffix(path, ".go"):
			rel, err := filepath.Rel(root, path)
			out = append(out, rel)
			return err
		}
		return nil
	})
	require.NoError(t, err)
	return out
}

func imports(t *testing.T, file string) []string {
	t.Helper()
	parsed, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, file), nil, parser.ImportsOnly)
	require.NoError(t, err)
	var out []string
	for _, spec := range parsed.Imports {
		path, err := strconv.Unquote(spec.Path.Value)
		require.NoError(t, err)
		out = append(out, path)
	}
	return out
}
