package revise

import (
	"fmt"
	"os"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// whole is a product that uses every part of the file.
const whole = `product: GCC-4
title: Vents
revision: A
tail: R1 R2 C1 C2 K1 K2 COM SH - GND
matrix:
  rows: R1 R2
  columns: C1 C2
  keys: |
    1 2
    3 4
  diodes: row to column
lines: {direct: K1 K2, common: COM, shield: SH, ground: GND}
keys:
  UP: {lines: K1 COM, at: 4 0, contact: 40 ohm}
  DUSK: {lines: K2 COM, at: 4 3}
groups:
  fast: {keys: 1 3, limits: {bounce on closing: at most 4 ms}}
tracks: {rows: last to first}
nominal: {contact: 50 ohm, track: 1 ohm, tail: 2 ohm, diode: 0.6 V at 1 mA}
limits:
  contact resistance: 10 ohm to 200 ohm
  insulation resistance: at least 20 Mohm
  bounce on closing: at most 8 ms
  bounce on opening: at most 8 ms
  diode: 0.3 V to 0.9 V
  guard: 1 U
test: {current: at most 4 mA, voltage: at most 4 V, rectangles: yes}
serial: {format: GCC-####*, check: luhn}
attempts: 2
scanner: {supply: 3.3 V, pull-up: 47 kohm, low: at most 0.99 V, high: at least 2.31 V, idle columns: float}
references:
  every: 8 h or 200 units
  within: 15 %
  good: GCC-00018
  bad:
    GCC-00026: key open at 1
`

func parse(t *testing.T, text string) *product.Product {
	t.Helper()
	p, err := product.Parse("pad.yaml", []byte(text))
	require.NoError(t, err, text)
	return p
}

// stated takes the scanner away, and states the current of contacts itself.
var stated = [2]string{
	whole[strings.Index(whole, "rectangles: yes}"):strings.Index(whole, "references:")],
	"rectangles: yes, contact current: 20 uA}\nserial: {format: GCC-####*, check: luhn}\nattempts: 2\n",
}

// classed says of every field of a product what a change of it is: how the file is
// written otherwise, and the class each way. A field without a line here fails the test.
var classed = map[string][]struct {
	from, to    string
	there, back Class
}{
	"Code":                    {{"product: GCC-4", "product: GCC-5", Looser, Looser}},
	"Title":                   nil, // no part of what is tested
	"Revision":                nil,
	"Tail":                    {{"SH - GND", "SH GND -", Looser, Looser}},
	"Lines.Name":              {{"SH", "SHX", Looser, Looser}},
	"Lines.Kind":              {{"shield: SH, ground: GND", "shield: SH GND", Looser, Looser}},
	"Lines.Pin":               {{"SH - GND", "- SH GND", Looser, Looser}},
	"Lines.Track":             {{"tracks: {rows: last to first}", "tracks: {rows: first to last}", Neutral, Neutral}},
	"Keys.Label":              {{"UP: {lines: K1 COM", "DOWN: {lines: K1 COM", Looser, Looser}},
	"Keys.A":                  {{"UP: {lines: K1 COM", "UP: {lines: K1 GND", Looser, Looser}},
	"Keys.B":                  {{"UP: {lines: K1 COM", "UP: {lines: K1 GND", Looser, Looser}},
	"Keys.Diode":              {{"contact: 40 ohm}", "contact: 40 ohm, diode: K1 to COM}", Tighter, Looser}},
	"Keys.X":                  {{"at: 4 0", "at: 5 0", Neutral, Neutral}},
	"Keys.Y":                  {{"at: 4 0", "at: 4 1", Neutral, Neutral}},
	"Keys.W":                  {{"at: 4 0", "at: 4 0, width: 2", Neutral, Neutral}},
	"Keys.H":                  {{"at: 4 0", "at: 4 0, size: 1 2", Neutral, Neutral}},
	"Keys.Group":              {{"fast: {keys", "quick: {keys", Neutral, Neutral}},
	"Keys.Actuator":           {{"at: 4 0", "at: 4 0, actuator number: 9", Neutral, Neutral}},
	"Keys.Contact":            {{"contact: 40 ohm}", "contact: 45 ohm}", Neutral, Neutral}},
	"Keys.Limits.ClosedMin":   {{"10 ohm to 200 ohm", "at most 200 ohm", Looser, Tighter}},
	"Keys.Limits.ClosedMax":   {{"10 ohm to 200 ohm", "10 ohm to 201 ohm", Looser, Tighter}},
	"Keys.Limits.RestMin":     {{"at least 20 Mohm", "at least 19 Mohm", Looser, Tighter}},
	"Keys.Limits.Make":        {{"closing: at most 8 ms", "closing: at most 9 ms", Looser, Tighter}},
	"Keys.Limits.Break":       {{"opening: at most 8 ms", "opening: at most 9 ms", Looser, Tighter}},
	"Keys.Limits.ForwardMin":  {{"0.3 V to", "0.2 V to", Looser, Tighter}},
	"Keys.Limits.ForwardMax":  {{"to 0.9 V", "to 0.95 V", Looser, Tighter}},
	"Keys.Limits.Guard":       {{"guard: 1 U", "guard: 0.5 U", Looser, Tighter}},
	"Rows":                    {{"rows: R1 R2", "rows: R2 R1", Looser, Looser}},
	"Columns":                 {{"columns: C1 C2", "columns: C2 C1", Looser, Looser}},
	"Test.MaxCurrent":         {{"current: at most 4 mA", "current: at most 20 mA", Risk, Neutral}},
	"Test.MaxVoltage":         {{"voltage: at most 4 V", "voltage: at most 12 V", Risk, Neutral}},
	"Test.Rectangles":         {{"rectangles: yes", "rectangles: no", Looser, Tighter}},
	"Test.AlsoRequired":       {{"rectangles: yes}", "rectangles: yes, also required: seating}", Tighter, Looser}},
	"Test.NotRequired":        {{"rectangles: yes}", "rectangles: yes, not required: bounce on closing}", Looser, Tighter}},
	"Test.Contact.Scanner":    {{"rectangles: yes}", "rectangles: yes, contact current: scanner}", Tighter, Looser}},
	"Test.Contact.Stated":     {{stated[0], stated[1], Looser, Looser}},
	"RepairLoops":             {{"attempts: 2", "attempts: 2\nrepair loops: 4", Looser, Tighter}},
	"Adapters":                {{"attempts: 2", "attempts: 2\nadapter: A-20", Tighter, Looser}},
	"Fails":                   {{"attempts: 2", "attempts: 2\nfails: none", Looser, Tighter}},
	"Stops.SameFinding":       {{"attempts: 2", "attempts: 2\nstops: {same finding: 4 units}", Looser, Tighter}, {"attempts: 2", "attempts: 2\nstops: {same finding: none}", Looser, Tighter}},
	"Stops.Yield":             {{"attempts: 2", "attempts: 2\nstops: {yield: 80 % of 50 units}", Looser, Tighter}, {"attempts: 2", "attempts: 2\nstops: {yield: none}", Looser, Tighter}},
	"Stops.Of":                {{"attempts: 2", "attempts: 2\nstops: {yield: 90 % of 60 units}", Looser, Looser}},
	"Stops.Reseats":           {{"attempts: 2", "attempts: 2\nstops: {reseats: 3}", Looser, Tighter}},
	"Stops.SameProbe":         {{"attempts: 2", "attempts: 2\nstops: {same probe: 4 units}", Looser, Tighter}},
	"Stops.Unseated":          {{"attempts: 2", "attempts: 2\nstops: {unseated: 6 units}", Looser, Tighter}},
	"Serial.Format":           {{"GCC-####*", "GCC-0###*", Tighter, Looser}, {"GCC-####*", "GDD-####*", Looser, Looser}},
	"Serial.CheckSystem":      {{"{format: GCC-####*, check: luhn}", "{format: GCC-#####}", Looser, Looser}},
	"Attempts":                {{"attempts: 2", "attempts: 3", Looser, Tighter}},
	"Scanner.Supply":          {{"supply: 3.3 V", "supply: 3.2 V", Neutral, Neutral}},
	"Scanner.PullUp":          {{"pull-up: 47 kohm", "pull-up: 40 kohm", Neutral, Neutral}},
	"Scanner.Low":             {{"low: at most 0.99 V", "low: at most 0.9 V", Neutral, Neutral}},
	"Scanner.High":            {{"high: at least 2.31 V", "high: at least 2.4 V", Neutral, Neutral}},
	"Scanner.Drive":           {{"idle columns: float", "idle columns: float, drive: 30 ohm", Neutral, Neutral}},
	"Scanner.IdleDriven":      {{"idle columns: float", "idle columns: driven", Neutral, Neutral}},
	"Scanner.PullUpTolerance": {{"idle columns: float", "idle columns: float, pull-up tolerance: 10 %", Neutral, Neutral}},
	"Scanner.SupplyTolerance": {{"idle columns: float", "idle columns: float, supply tolerance: 10 %", Neutral, Neutral}},
	"Scanner.Capacitance":     {{"idle columns: float", "idle columns: float, line capacitance: 50 pF", Neutral, Neutral}},
	"Scanner.Settle":          {{"idle columns: float", "idle columns: float, settle: 40 us", Neutral, Neutral}},
	"Scanner.Period":          {{"idle columns: float", "idle columns: float, period: 5 ms", Neutral, Neutral}},
	"Scanner.Debounce":        {{"idle columns: float", "idle columns: float, debounce: 20 ms", Neutral, Neutral}},
	"Scanner.ShortestPress":   {{"idle columns: float", "idle columns: float, shortest press: 60 ms", Neutral, Neutral}},
	"Scanner.PortCurrent":     {{"idle columns: float", "idle columns: float, port current: 8 mA", Neutral, Neutral}},
	"Nominal.Contact":         {{"{contact: 50 ohm", "{contact: 55 ohm", Neutral, Neutral}},
	"Nominal.Track":           {{"track: 1 ohm", "track: 2 ohm", Neutral, Neutral}},
	"Nominal.Tail":            {{"tail: 2 ohm", "tail: 3 ohm", Neutral, Neutral}},
	"Nominal.Diode.Is":        {{"diode: 0.6 V at 1 mA", "diode: 0.62 V at 1 mA", Neutral, Neutral}},
	"Nominal.Diode.N":         {{"diode: 0.6 V at 1 mA", "diode: 0.62 V at 1 mA", Neutral, Neutral}},
	"Nominal.Diode.Rs":        {{"diode: 0.6 V at 1 mA", "diode: 0.62 V at 1 mA", Neutral, Neutral}},
	"References.Every":        {{"8 h or 200 units", "9 h or 200 units", Looser, Tighter}, {"8 h or 200 units", "200 units", Looser, Tighter}},
	"References.Units":        {{"8 h or 200 units", "8 h or 300 units", Looser, Tighter}, {"8 h or 200 units", "8 h", Looser, Tighter}},
	"References.Within":       {{"within: 15 %", "within: 20 %", Looser, Tighter}},
	"References.Good":         {{"good: GCC-00018", "good: GCC-00018 GCC-00034", Tighter, Looser}},
	"References.Bad.Serial":   {{"GCC-00026: key", "GCC-00034: key", Looser, Looser}},
	"References.Bad.What":     {{"key open at 1", "key high at 1", Looser, Looser}},
	"References.Bad.Key":      {{"key open at 1", "key open at 2", Looser, Looser}},
	"References.Bad.Lines":    {{"key open at 1", "lines shorted at R1 R2", Looser, Looser}},
}

// leaves lists the fields of a type, those of structs within by their path.
func leaves(of reflect.Type, path string) (out []string) {
	for of.Kind() == reflect.Pointer || of.Kind() == reflect.Slice {
		of = of.Elem()
	}
	if of.Kind() != reflect.Struct {
		return []string{path}
	}
	for i := range of.NumField() {
		f := of.Field(i)
		out = append(out, leaves(f.Type, strings.TrimPrefix(path+"."+f.Name, "."))...)
	}
	return out
}

// Every field of a product has a class, each way, and it shows.
func TestEveryFieldOfAProductHasAClass(t *testing.T) {
	fields := leaves(reflect.TypeFor[product.Product](), "")
	assert.Greater(t, len(fields), 50)
	for _, field := range fields {
		_, is := classed[field]
		assert.True(t, is, "%s of a product has no class: say in classed, and in rules, which way it goes", field)
	}
	for field := range classed {
		assert.Contains(t, fields, field)
	}
	p := parse(t, whole)
	for field, changes := range classed {
		for _, c := range changes {
			require.Contains(t, whole, c.from, field)
			q := parse(t, strings.ReplaceAll(whole, c.from, c.to))
			for i, found := range [][]Change{Between(p, q), Between(q, p)} {
				want := []Class{c.there, c.back}[i]
				require.NotEmpty(t, found, "%s: %q to %q", field, c.from, c.to)
				assert.Equal(t, want, found[0].Class, "%s: %q to %q: %+v", field, c.from, c.to, found)
				for _, f := range found {
					assert.NotEqual(t, Unclassed, f.Code, "%s: %+v", field, f)
				}
				assert.Equal(t, want == Looser || want == Risk, NeedsTwo(found), field)
			}
		}
	}
	assert.Empty(t, Between(p, parse(t, strings.Replace(strings.Replace(whole, "Vents", "Windows", 1), "revision: A", "revision: B", 1))))
}

// Every leaf of the canonical text has a rule: what has none is taken for looser.
func TestWhatNobodyClassedIsLooser(t *testing.T) {
	b := &between{from: parse(t, whole), to: parse(t, whole)}
	b.leaf(product.Difference{Where: "keys[1].limits.travel_mm", From: "2", To: "1"})
	b.leaf(product.Difference{Where: "key counter", From: "1", To: "2"})
	require.Len(t, b.found, 2)
	for _, c := range b.found {
		assert.Equal(t, Unclassed, c.Code)
		assert.Equal(t, Looser, c.Class)
	}
}

// The same of several keys is one change; a key or a reference unit that is gone is
// looser, however the limit is written.
func TestChangesAreTakenTogether(t *testing.T) {
	raw, err := os.ReadFile("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	text, p := string(raw), parse(t, string(raw))
	between := func(from, to string) []string {
		require.Contains(t, text, from)
		var out []string
		for _, c := range Between(p, parse(t, strings.Replace(text, from, to, 1))) {
			out = append(out, fmt.Sprintf("%s %s %d/%d %s>%s", c.Class, c.Code, len(c.Keys), c.Of, c.From, c.To))
		}
		return out
	}
	for name, c := range map[string]struct {
		from, to string
		want     []string
	}{
		"all keys":     {"at most 200 ohm", "at most 2 kohm", []string{"looser contact at most 16/20 200 ohm>2 kohm"}},
		"in a group":   {"at most 300 ohm", "at most 3 kohm", []string{"looser contact at most 4/20 300 ohm>3 kohm"}},
		"of one key":   {"matrix:\n", "keys: {7: {limits: {contact resistance: at most 2000000 mohm}}}\nmatrix:\n", []string{"looser contact at most 1/20 200 ohm>2 kohm"}},
		"another unit": {"at most 200 ohm", "at most 0.2 kohm", nil},
		"out of group": {"keys: VENT HEAT MIST LIGHT", "keys: VENT HEAT MIST", []string{"tighter contact at most 1/20 300 ohm>200 ohm", "neutral group of key 0/0 >"}},
		"into a group": {"keys: VENT HEAT MIST LIGHT", "keys: VENT HEAT MIST LIGHT OK", []string{"looser contact at most 1/20 200 ohm>300 ohm", "neutral group of key 0/0 >"}},
		"no scanner":   {"scanner:\n  supply: 3.3 V\n  pull-up: 47 kohm\n  low: at most 0.99 V\n  high: at least 2.31 V\n  drive: 40 ohm\n  idle columns: float\n", "", []string{"looser scanner removed 0/0 >"}},
		"no check":     {"  format: GCC-######-*\n  check: mod 37,36\n", "  format: GCC-######-?\n", []string{"looser serial check 0/0 mod 37,36>", "neutral serial format 0/0 GCC-######-*>GCC-######-?"}},
	} {
		got := between(c.from, c.to)
		slices.SortFunc(got, func(a, b string) int { return slices.Index(c.want, a) - slices.Index(c.want, b) })
		assert.Equal(t, c.want, got, name)
	}
	small := parse(t, whole)
	gone := Between(small, parse(t, strings.Replace(strings.Replace(whole, "  DUSK: {lines: K2 COM, at: 4 3}\n", "", 1),
		"lines: {direct: K1 K2, common: COM, shield: SH", "lines: {direct: K1, common: COM, shield: SH K2", 1)))
	require.NotEmpty(t, gone)
	assert.Equal(t, Change{Class: Looser, Code: KeyRemoved, Keys: []string{"DUSK"}, Of: 5}, gone[0])
}
