package product

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// vents is a product file in which one key says its actuator.
func vents(stated string) []byte {
	return fmt.Appendf(nil, "product: VENT-2\ntail: K1 K2 COM\nlines: {direct: K1 K2, common: COM}\n"+
		"keys:\n  UP: K1 COM\n  DOWN: {lines: K2 COM, %s}\n", stated)
}

// A number that counted from 0 can never be taken for one from 1: the field has
// another name, and the one of before is refused where it stands.
func TestActuatorsCountFromOne(t *testing.T) {
	for stated, want := range map[string]string{
		"actuator: 5":        `pad.yaml:6:25: "actuator" of key "DOWN" counted from 0; write "actuator number: 6", which counts from 1 as on the jig's plate`,
		"actuator: 0":        `pad.yaml:6:25: "actuator" of key "DOWN" counted from 0; write "actuator number: 1", which counts from 1 as on the jig's plate`,
		"actuator: x":        `pad.yaml:6:25: "actuator" of key "DOWN" counted from 0; write "actuator number: N", which counts from 1 as on the jig's plate`,
		"actuator number: 0": `pad.yaml:6:42: actuator number cannot be "0"; write a whole number from 1 to 512`,
		"actuator number: 1": `pad.yaml:6:42: keys "UP" and "DOWN" are both on actuator number 1; give each its own (a key's own number is its place in the order of keys)`,
		"actator: 6": `pad.yaml:6:25: unknown field "actator" in key DOWN; write one of: lines, shares, diode, group, at, size, ` +
			`width, actuator number, contact, limits`,
		"actuator number: 6, actuator: 5": `pad.yaml:6:45: "actuator" of key "DOWN" counted from 0; write "actuator number: 6", which ` +
			`counts from 1 as on the jig's plate`,
	} {
		_, err := Parse("pad.yaml", vents(stated))
		assert.EqualError(t, err, want, stated)
	}
	p, err := Parse("pad.yaml", vents("actuator number: 512"))
	require.NoError(t, err)
	assert.Equal(t, 511, p.Keys[1].Actuator)
}

// What means the same has the same hash as before, and a text that was kept means
// what it meant.
func TestActuatorsKeepTheirHash(t *testing.T) {
	now, err := Parse("pad.yaml", vents("actuator number: 6"))
	require.NoError(t, err)
	const before = "602026e4ffc7cefe4ff659d97f3d4bbd685153592934d9211a004dab922f5929" // of "actuator: 5", when that counted from 0
	assert.Equal(t, before, now.Hash())
	kept, err := ParseKept("pad.yaml", vents("actuator: 5"))
	require.NoError(t, err)
	assert.Equal(t, now, kept)
	_, err = ParseKept("pad.yaml", vents("actuator: 512"))
	assert.ErrorContains(t, err, "write a whole number from 0 to 511")
}

// What changed is said in the numbers of the jig's plate, as the file states them.
func TestActuatorsAreComparedFromOne(t *testing.T) {
	from, err := Parse("pad.yaml", vents("actuator number: 6"))
	require.NoError(t, err)
	to, err := Parse("pad.yaml", vents("actuator number: 9"))
	require.NoError(t, err)
	changed := Differences(from.Canonical(), to.Canonical())
	assert.Equal(t, []Difference{{"keys[DOWN].actuator number", "6", "9"}}, changed)
	assert.Equal(t, "keys DOWN actuator number from 6 to 9", SayDifferences(changed))
}

// The limits have the words of the trade: files with those of before are refused, texts that
// were kept are read, and the hash of either is what it was.
func TestRenamedLimitsKeepTheirHash(t *testing.T) {
	now := string(vents("limits: {contact resistance: 1 ohm to 80 ohm, insulation resistance: at least 30 Mohm, " +
		"bounce on closing: at most 4 ms, bounce on opening: at most 6 ms}"))
	before := strings.NewReplacer("contact resistance", "closed", "insulation resistance", "rest",
		"bounce on closing", "make", "bounce on opening", "break").Replace(now)
	p, err := Parse("pad.yaml", []byte(now))
	require.NoError(t, err)
	const hash = "e361612c0ac5166688ca32ac07b2f5248107e99eb34609e08ff5436414468e68" // of the file of before
	assert.Equal(t, hash, p.Hash())
	kept, err := ParseKept("pad.yaml", []byte(before))
	require.NoError(t, err)
	assert.Equal(t, p, kept)
	_, err = Parse("pad.yaml", []byte(before))
	var list Mistakes
	require.ErrorAs(t, err, &list)
	assert.Len(t, list, 4)
	assert.EqualError(t, list[0], `pad.yaml:6:34: "closed" of limits is named "contact resistance" now; `+
		`write "contact resistance: 1 ohm to 80 ohm"`)
}
