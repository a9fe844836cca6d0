"""Addresses of the app."""

from django.urls import path

from sites.views import assumptions, chapters, customers, home, papers, pasting, prints, site, stages, watch, whatif

SITE = "at/<slug:customer>/<slug:site>/"

urlpatterns = [
    path("", home.home, name="home"),
    path("health", home.health, name="health"),
    path("you", home.you, name="you"),
    path("house/assumptions/", assumptions.house_list, name="house-assumptions"),
    path("house/assumptions/<str:key>", assumptions.house_one, name="house-assume"),
    path("house/assumptions/<str:key>/back", assumptions.house_back, name="house-assume-back"),
    path("at/", customers.add, name="customer-add"),
    path("at/<slug:customer>/", customers.customer, name="customer"),
    path("at/<slug:customer>/sites", customers.add_site, name="site-add"),
    path("at/<slug:customer>/members", customers.members, name="members"),
    path("at/<slug:customer>/change", customers.change, name="customer-change"),
    path("at/<slug:customer>/member/<int:pk>", customers.member, name="member"),
    path("at/<slug:customer>/site-back/<int:removal>", customers.bring_site_back, name="site-back"),
    path(SITE + "assumptions", assumptions.site_list, name="assumptions"),
    path(SITE + "assume/<str:key>", assumptions.site_one, name="assume"),
    path(SITE + "assume/<str:key>/back", assumptions.site_back, name="assume-back"),
    path(SITE + "what-if", whatif.panel, name="what-if"),
    path(SITE + "what-if/keep", whatif.keep, name="what-if-keep"),
    path(SITE + "ask/<slug:key>", whatif.question, name="question"),
    path(SITE + "copy", site.copy, name="site-copy"),
    path(SITE + "remove-site", site.remove, name="site-remove"),
    path(SITE + "add/<slug:section>", chapters.add, name="record-add"),
    path(SITE + "change/<slug:section>/<int:pk>", chapters.change, name="record-change"),
    path(SITE + "remove/<slug:section>/<int:pk>", chapters.remove, name="record-remove"),
    path(SITE + "paste/<slug:section>", pasting.paste, name="paste"),
    path(SITE + "bring-back/<int:removal>", chapters.bring_back, name="bring-back"),
    path(SITE + "mend/<str:token>", chapters.mend, name="mend"),
    path(SITE + "print/build-book.pdf", prints.book, name="book"),
    path(SITE + "print/<slug:name>.<slug:ending>", prints.sheet, name="sheet"),
    path(SITE + "accept/<str:token>", papers.accept, name="accept"),
    path(SITE + "withdraw/<str:token>", papers.withdraw, name="withdraw"),
    path(SITE + "watch", watch.watch, name="watch"),
    path(SITE + "freeze", papers.freeze, name="freeze"),
    path(SITE + "differences", papers.differences, name="differences"),
    path(SITE + "changes", papers.changes, name="changes"),
    path(SITE + "stages/<int:number>/", stages.stage, name="stage"),
    path(SITE + "stages/<int:number>/sign", stages.sign, name="sign"),
    path(SITE + "answer/<str:key>", stages.answer, name="answer"),
    path(SITE + "<slug:slug>/", chapters.chapter, name="chapter"),
]
