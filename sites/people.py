"""How people come in: a lead or house staff makes their account; nobody signs up by themselves."""

from allauth.account.adapter import DefaultAccountAdapter


class HouseAdapter(DefaultAccountAdapter):
    def is_open_for_signup(self, request) -> bool:
        return False
