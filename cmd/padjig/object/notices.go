package object

import (
	"time"

	"padjig/results/notices"
	"padjig/results/plant/notice"
)

// PlantKey is by what a plant's notices are believed.
type PlantKey struct {
	Plant string      `json:"plant"` // the fingerprint of its first key
	Keys  []PublicKey `json:"keys"`  // in the order in which they came into force; the last one is
}

// PublicKey is one key.
type PublicKey struct {
	Fingerprint string `json:"fingerprint"` // SHA-256, hexadecimal
	PEM         string `json:"pem"`
}

// Published is what an office told its stations.
type Published struct {
	Issued []Notice `json:"issued"` // made now
	Put    int      `json:"put"`    // put up at the plant now
	Count  int64    `json:"count"`  // that there are
}

// Notice is one decision of a plant, without what it says.
type Notice struct {
	Number  int64  `json:"number"`
	Kind    string `json:"kind"`    // beginning, key, release, return, account, lots or dates
	Subject string `json:"subject"` // product, account, jig, or reference box or unit
	Issued  string `json:"issued"`  // by the clock of the plant's office
	Outcome string `json:"outcome"` // in force, not here, label taken, waits, or issued
}

// Notices are those of some records, and how these stand to their plant.
type Notices struct {
	Notices []Notice `json:"notices"`
	Contact *Contact `json:"contact,omitempty"` // of a station with its plant
}

// Contact is how a station stands to its plant.
type Contact struct {
	Taken   int64            `json:"taken"`           // number of the last notice that is here
	Count   int64            `json:"count"`           // that there are, by the newest head that is believed
	Said    string           `json:"said,omitempty"`  // when that was so, by the clock of the plant's office
	Heard   string           `json:"heard,omitempty"` // when it was heard here, by the clock of this computer
	Over    bool             `json:"over"`            // that is longer ago than it should be
	Trouble *NoticeMistake   `json:"trouble,omitempty"`
	Waiting []string         `json:"waiting"`  // names of accounts that wait, since accounts made here have those names
	Newest  map[string]int64 `json:"products"` // the number of the last notice of each product
}

// NoticeMistake is why something of the plant is not believed.
type NoticeMistake struct {
	Code   string `json:"code"`
	Number int64  `json:"number"` // of the notice, or how many there are by a head
	Why    string `json:"why"`
	Since  string `json:"since"`
}

func moment(t time.Time) string { return t.UTC().Format(time.RFC3339Nano) }

// NoticeOf gives a notice, and what came of it.
func NoticeOf(n notice.Notice, outcome notices.Outcome) Notice {
	return Notice{n.Number, string(n.Kind), n.Subject, moment(n.Issued), string(outcome)}
}

// ContactOf gives how a station stands; nil for none.
func ContactOf(st *notices.Contact, now time.Time) *Contact {
	if st == nil {
		return nil
	}
	out := &Contact{Taken: st.Taken, Waiting: st.Waiting, Newest: map[string]int64{}}
	_, out.Over = st.Silent(now)
	if st.Head != nil {
		out.Count, out.Newest, out.Said, out.Heard = st.Head.Count, st.Head.Products, moment(st.Head.Issued), moment(st.Heard)
	}
	if m := st.Trouble; m != nil {
		out.Trouble = &NoticeMistake{string(m.Code), m.Number, m.Why, moment(st.Since)}
	}
	return out
}
