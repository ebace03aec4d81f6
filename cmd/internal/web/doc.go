// Package web is the instructor's desk: pages in the browser over a store of
// attempts. They are made here and need nothing from elsewhere; what a sheet and a
// student's page look like comes from package report.
//
//	server.go   routes, rendering, errors
//	safe.go     who may ask for what: host, origin, passphrase, token, policy
//	text.go     the catalogue of all text, text/en.yaml
//	list.go     the attempts
//	add.go      an attempt is added: the form, the upload; job.go the work behind it
//	review.go   the sheet beside the player; decide.go keeps what is decided there
//	audio.go    recordings and their loudness
//	student.go, class.go   one student, one class
//	reports.go  pages that package report writes as files too
//
// All that a person decides is in the store before the page says so. A page that
// is open while the server restarts sends what it has not got through again.
package web
