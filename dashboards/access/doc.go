// Package access is the door of everything that is served over HTTP: it says
// who asks, keeps strangers out, and lets each see their own homes only.
//
// A request goes through Protect before anything else answers it:
//
//	bounds       its body may only be so large and take so long
//	origin       a page elsewhere cannot make a browser change anything here
//	who          a session of somebody signed in, or a token of a program
//	where        a page of a home is for those who may see that home
//
// and arrives with the viewer in its context; see From. A request that changes
// something needs more than the right to look.
//
// # What a stranger learns
//
// Nothing. A home that somebody may not know of is answered by the very code
// that answers for one that does not exist: the request goes on under a name
// that no home can have. A wrong address and a wrong password get the same
// sentence after the same time, and so does a forgotten password of somebody
// unknown.
//
// # Signing in
//
// Passwords are set by links that work once. A session gets a new token when
// somebody signs in, so one that was planted before is worth nothing, and ends
// when the password changes or the account is disabled. Attempts are slowed down
// by account and by address; see Throttle.
//
// Without accounts, as in the demonstration on this machine alone, Open does the
// first two steps and leaves out the viewer: everything is then shown.
package access
