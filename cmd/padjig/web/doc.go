// Package web is the station's site: it gathers what the subjects below it bring, lets
// requests to it, and alone answers them.
//
// A subject is a package with a Set of pages, actions and streams, see package page. A
// page makes a view, a plain struct. The template of its name in templates/ shows it as
// HTML; asked for application/json, the page gives the same struct as JSON. What changes
// something is an action: a POST with the session's token.
//
// Every request passes, in this order: the list of host names, the guard
// against other sites' pages, the session, the role. There is no script or
// style in the HTML; everything comes from static/, embedded in the program.
//
// All text that a person reads stands in the catalogue, text/*.json, by key and
// language, also the text the scripts show: it comes to them in the HTML.
//
// Live pages hold a stream of events open. The lane they show tells of
// each change, and the stream sends what differs from what it sent before: a
// browser that is slow, or was away, never holds anything up and misses nothing.
package web
