"""The screens: a Flask application over ``stash.services``.

The room translates: a request into a call of a service, its answer into a page, an error into an explanation. It holds
no rules and no queries. One blueprint per noun, one template folder per blueprint; pages work without scripts.

    forms      forms made from the tables' columns
    faults     errors as pages
    headers    what every answer says to the browser
    access     roles and signing in
    words      the words people see
"""

from stash.web.app import create_app

__all__ = ["create_app"]
