package main

import (
	"maps"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/account"
)

// The pages of the office in a real browser, over a real database: the sizes of screens, light and dark, both
// languages, and nothing that keeps anybody from using them. With -wholecrawl it is every page, as every role.
func TestOfficeInABrowser(t *testing.T) {
	t.Parallel()
	b := makeOffice(t, aPlant(t))
	tour := &tour{bed: b, keys: catalogueKeys(t), at: map[string]int{}, looked: map[string]int{}, last: map[string]visitor{}, found: map[string][]string{}}
	if *wholeCrawl {
		for _, role := range append([]account.Role{""}, account.Roles...) {
			tour.walk(role)
		}
	}
	tour.as(account.Engineer) // has a session
	for at, address := range []string{"/", "/quality", "/quality/yield?by=station", "/unit?serial=GCC-000001-3", "/jigs", "/returns", "/fails", "/products", "/notices", "/plant/conflicts", "/plant/identify?serial=GCC-000001-3", "/lots", "/shifts"} {
		for n := range leastLooks {
			tour.look(sortOf(address), visitor{account.Engineer, address}, lookAt(at, n))
		}
	}
	for _, what := range slices.Sorted(maps.Keys(tour.found)) {
		assert.Fail(t, what, "in %d looks, first as %s", len(tour.found[what]), tour.found[what][0])
	}
	if *screens != "" {
		for address, name := range map[string]string{"/": "office", "/unit?serial=GCC-000001-3": "office-unit", "/jigs": "office-jigs", "/quality/yield?by=station": "office-yield",
			"/plant/identify?serial=GCC-000001-3": "office-identify", "/notices": "office-notices", "/plant/conflicts": "office-conflicts", "/lots": "office-lots", "/shifts": "office-shifts"} {
			b.as(account.Engineer, "laptop", address).state(name)
		}
	}
}
