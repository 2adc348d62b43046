package plant_test

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"padjig/results/plant/postgres"
)

// same holds an answer of the plant against that of the station, value by value, down to those that no other
// package sees. A number is the same, or what the plant calls the run or the row that the station calls by the
// station's number: numbers of the plant are far beyond any count. Which one is said in no type, so all are tried.
type same struct {
	numbers
	path  string // of the station's records, which errors name
	wrong []string
}

func (s *same) check(t *testing.T, what string, station, plant any) {
	t.Helper()
	s.wrong = nil
	s.walk("", reflect.ValueOf(station), reflect.ValueOf(plant))
	if len(s.wrong) > 0 {
		t.Errorf("%s: station and plant differ\n%s", what, strings.Join(s.wrong[:min(len(s.wrong), 8)], "\n"))
	}
}

func (s *same) number(station, plant int64) bool {
	if station == plant || s.runs[station] == plant || s.cells[station] == plant || postgres.RowNumber(s.member, station) == plant {
		return true
	}
	if before := s.runs[station+1]; before == plant+1 && before != 0 { // it lies before that run
		return true
	}
	return false
}

func (s *same) differ(at string, station, plant any) {
	s.wrong = append(s.wrong, fmt.Sprintf("  %s: station %v, plant %v", at, station, plant))
}

// ofNow are values that say how long something holds by now, or what a store is itself.
var ofNow = []string{"Held", "db"}

var isTime = reflect.TypeFor[time.Time]()

func (s *same) walk(at string, station, plant reflect.Value) {
	if station.IsValid() != plant.IsValid() || station.IsValid() && station.Type() != plant.Type() {
		s.differ(at, station, plant)
		return
	}
	if !station.IsValid() {
		return
	}
	switch kind := station.Kind(); kind {
	case reflect.Int, reflect.Int64, reflect.Int32, reflect.Int16, reflect.Int8:
		if !s.number(station.Int(), plant.Int()) {
			s.differ(at, station.Int(), plant.Int())
		}
	case reflect.Uint, reflect.Uint64, reflect.Uint32, reflect.Uint16, reflect.Uint8:
		if station.Uint() != plant.Uint() {
			s.differ(at, station.Uint(), plant.Uint())
		}
	case reflect.Float64, reflect.Float32:
		if a, b := station.Float(), plant.Float(); a != b && !(math.IsNaN(a) && math.IsNaN(b)) && !s.number(int64(a), int64(b)) {
			s.differ(at, a, b)
		}
	case reflect.Bool:
		if station.Bool() != plant.Bool() {
			s.differ(at, station.Bool(), plant.Bool())
		}
	case reflect.String:
		if strings.ReplaceAll(station.String(), s.path, "plant") != plant.String() {
			s.differ(at, station.String(), plant.String())
		}
	case reflect.Pointer, reflect.Interface:
		if station.IsNil() != plant.IsNil() {
			s.differ(at, station, plant)
		} else if !station.IsNil() && (kind == reflect.Interface || station.Pointer() != plant.Pointer()) {
			s.walk(at, station.Elem(), plant.Elem())
		}
	case reflect.Slice, reflect.Array:
		if station.Len() != plant.Len() {
			s.differ(at+" length", station.Len(), plant.Len())
			return
		}
		for i := range station.Len() {
			s.walk(fmt.Sprintf("%s[%d]", at, i), station.Index(i), plant.Index(i))
		}
	case reflect.Map:
		s.maps(at, station, plant)
	case reflect.Struct:
		if station.Type() == isTime { // by what it consists of, but where
			if station.Field(0).Uint() != plant.Field(0).Uint() || station.Field(1).Int() != plant.Field(1).Int() {
				s.differ(at, station, plant)
			}
			return
		}
		for i := range station.NumField() {
			if slices.Contains(ofNow, station.Type().Field(i).Name) {
				continue
			}
			s.walk(at+"."+station.Type().Field(i).Name, station.Field(i), plant.Field(i))
		}
	}
}

// maps finds the counterpart of each key; keys may be numbers. A number can be that of a row and, by itself, another one too: the counterpart is
// the key whose value is the same, where there is one.
func (s *same) maps(at string, station, plant reflect.Value) {
	if station.Len() != plant.Len() {
		s.differ(at+" length", station.Len(), plant.Len())
		return
	}
	alike := func(a, b reflect.Value) bool {
		try := same{numbers: s.numbers, path: s.path}
		try.walk("", a, b)
		return len(try.wrong) == 0
	}
	keys := plant.MapKeys()
	for _, key := range station.MapKeys() {
		i := slices.IndexFunc(keys, func(k reflect.Value) bool { return alike(key, k) && alike(station.MapIndex(key), plant.MapIndex(k)) })
		if i < 0 {
			i = slices.IndexFunc(keys, func(k reflect.Value) bool { return alike(key, k) })
		}
		if i < 0 {
			s.differ(at, fmt.Sprintf("key %v", key), "none")
			continue
		}
		s.walk(fmt.Sprintf("%s[%v]", at, key), station.MapIndex(key), plant.MapIndex(keys[i]))
		keys = slices.Delete(keys, i, i+1)
	}
}
