package main

// group is a part of the navigation, in the order in which somebody new needs it.
type group struct {
	name  string
	pages []string
}

// groups has every page once; a test holds that.
var groups = []group{
	{"Begin", []string{"README.md", "docs/walk.md", "docs/glossary.md"}},
	{"Ten minutes for you", []string{"docs/tutorial-operator.md", "docs/tutorial-quality.md", "docs/tutorial-returns.md",
		"docs/tutorial-fixture.md"}},
	{"At the line", []string{"docs/station.md", "docs/pages.md", "docs/journeys.md", "docs/findings.md", "docs/troubleshooting.md"}},
	{"Products", []string{"docs/product-file.md", "docs/devicetree.md", "docs/limits.md", "docs/margins.md", "docs/wiring.md"}},
	{"Quality", []string{"docs/quality.md", "docs/plant-questions.md", "docs/statistics.md", "docs/records.md", "docs/needs.md"}},
	{"Returns", []string{"docs/returns.md", "docs/diagnosis.md", "docs/samepad.md"}},
	{"Jigs", []string{"docs/safety.md", "docs/safety-guards.md", "docs/safety-levels.md", "docs/build-guide.md",
		"docs/reference-jig.md", "docs/jig/jig-2.md", "docs/jig/format.md", "docs/firmware.md", "docs/jig-protocol.md",
		"docs/calibration.md"}},
	{"How it measures", []string{"docs/measurement.md", "docs/contacts.md", "docs/faults.md", "docs/figures.md"}},
	{"To look after it", []string{"docs/install.md", "docs/systems.md", "docs/settings.md", "docs/doctor.md", "docs/logs.md", "docs/backup.md", "docs/plant.md",
		"docs/sizing.md",
		"docs/SECURITY.md"}},
	{"For other programs", []string{"docs/api.md", "docs/hand-off.md", "docs/standard.md", "docs/schema/README.md"}},
	{"To change it", []string{"DEVELOPERS.md", "docs/decisions.md", "docs/CONTRIBUTING.md", "CHANGELOG.md"}},
}
